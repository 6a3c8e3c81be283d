package rehearse

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"setscrew/commands"
	catalogue "setscrew/commands/words"
)

// send presses a button or sends a form, by its custom id.
func (r *rehearsal) send(ctx context.Context, custom string, fields map[string]string) commands.Reply {
	return r.desk.Press(ctx, commands.Press{ID: r.next(), Shop: r.state.Shop, Actor: r.actor(), Custom: custom,
		Fields: fields, Now: r.state.Now})
}

// answer prints a reply, then lets the sweep and the poster do what it brought
// about.
func (r *rehearsal) answer(ctx context.Context, reply commands.Reply) error {
	if len(reply.Buttons) > 0 {
		earlier := slices.Concat(r.state.Buttons, r.state.Earlier)
		r.state.Buttons, r.state.Earlier = reply.Buttons, earlier[:min(len(earlier), mostEarlier)]
	}
	if reply.Form != nil {
		r.state.Form = reply.Form
	}
	picture, err := r.draw(reply)
	if err != nil {
		return err
	}
	if err := r.keep(reply.File); err != nil {
		return err
	}
	medium, err := r.medium(ctx)
	if err != nil {
		return err
	}
	r.printf("%s", layOut(reply, r.state.Who, picture, medium))
	if err := r.wake(ctx); err != nil {
		return err
	}
	r.printf("\n")
	if r.fault != nil {
		return r.fault
	}
	if reply.Refused && (r.cfg.Strict || r.quiet) {
		return fmt.Errorf("%w: %s", ErrRefused, catalogue.Expand(reply.Headline, medium))
	}
	return nil
}

// draw writes a reply's picture where pictures are wanted.
func (r *rehearsal) draw(reply commands.Reply) (path string, err error) {
	if reply.Picture == nil || r.cfg.Pictures == "" {
		return "", nil
	}
	png, err := commands.Draw(*reply.Picture)
	if err != nil {
		return "", err
	}
	r.pictures++
	path, err = r.write(fmt.Sprintf("%03d-%s.png", r.pictures, reply.Picture.Name), png)
	return filepath.ToSlash(path), err
}

// keep writes a reply's file where pictures are wanted.
func (r *rehearsal) keep(file *commands.File) error {
	if file == nil || r.cfg.Pictures == "" {
		return nil
	}
	_, err := r.write(file.Name, file.Data)
	return err
}

// write puts a file into the folder for pictures, which it makes if need be.
func (r *rehearsal) write(name string, data []byte) (path string, err error) {
	if err := os.MkdirAll(r.cfg.Pictures, 0o755); err != nil {
		return "", fmt.Errorf("rehearse: make the folder for pictures: %w", err)
	}
	path = filepath.Join(r.cfg.Pictures, name)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		return "", fmt.Errorf("rehearse: write what a reply came with: %w", err)
	}
	return path, nil
}

// medium shows times as the shop's clocks do.
func (r *rehearsal) medium(ctx context.Context) (terminal, error) {
	shop, err := r.db.Shop(r.state.Shop).Shop(ctx)
	return terminal{shop.Location(), r.state.Now}, err
}
