package bot

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands/words"
	"setscrew/domain"
)

// Restorations is what is known of books that were put back from a copy.
type Restorations interface {
	// Restorations lists the shops whose channel was not held against their books yet.
	Restorations(ctx context.Context) ([]domain.Restoration, error)
	// Reconciled notes that one's was.
	Reconciled(ctx context.Context, r domain.Restoration) error
}

// reconcile holds the channels of shops whose books were put back from a copy against
// them, each once; one that fails is tried again a minute later.
func (b *Bot) reconcile(ctx context.Context) {
	if b.cfg.Restored == nil || b.link.Load() == nil {
		return
	}
	all, err := b.cfg.Restored.Restorations(ctx)
	for _, one := range all {
		if err = b.reconcileShop(ctx, one); err != nil {
			break
		}
	}
	if err != nil && ctx.Err() == nil {
		b.cfg.Log.Error("a channel is not held against restored books yet", "error", err)
	}
}

// reconcileShop is reconcile for one shop.
func (b *Bot) reconcileShop(ctx context.Context, restoration domain.Restoration) error {
	shop, err := b.cfg.Settings(ctx, restoration.Shop)
	if err != nil {
		return err
	}
	if shop.NoticeChannel == "" {
		b.cfg.Log.Warn("restored books cannot be held against a channel: there is none", "shop", restoration.Shop)
		return b.cfg.Restored.Reconciled(ctx, restoration)
	}
	heard, err := b.notices.since(ctx, shop, restoration.Last)
	if err != nil {
		return fmt.Errorf("read the channel of shop %s: %w", restoration.Shop, err)
	}
	told, err := b.cfg.Desk.Reconcile(ctx, shop, restoration, heard, func(s string) string {
		return words.Expand(s,
			markdown{})
	})
	if err != nil {
		return err
	}
	owed := domain.Undelivered{Shop: restoration.Shop, Made: restoration.At,
		Notice: domain.Notice{Key: fmt.Sprint("restored/", restoration.At.Unix()), Op: domain.Post}}
	if _, err := b.notices.Post(ctx, shop, owed, told); err != nil {
		return fmt.Errorf("tell shop %s of its restored books: %w", restoration.Shop, err)
	}
	b.cfg.Log.Info("a channel was held against restored books", "shop", restoration.Shop, "read", len(heard))
	return b.cfg.Restored.Reconciled(ctx, restoration)
}

// mentionsFirst is what stands before the first line of a notice that calls somebody.
var mentionsFirst = regexp.MustCompile(`^(<@&?\d+> )+`)

// since lists the first lines of the notices that stand in a channel and were posted at a
// moment or later, the latest first, without those whom they mention. Only what Setscrew
// itself posted counts.
func (n *notices) since(ctx context.Context, shop domain.Shop, from time.Time) (all []string, err error) {
	url := discordgo.EndpointChannelMessages(shop.NoticeChannel)
	before := ""
	for range findPages {
		text, err := n.requestTo(ctx, "GET", fmt.Sprintf("%s?limit=%d%s", url, findPage, before), url, nil)
		if err != nil {
			return nil, err
		}
		var list []struct {
			ID      string `json:"id"`
			Content string `json:"content"`
			Author  struct {
				Bot bool `json:"bot"`
			} `json:"author"`
		}
		if err := json.Unmarshal(text, &list); err != nil {
			return nil, fmt.Errorf("read the channel's messages: %w", err)
		}
		for _, m := range list {
			at, err := discordgo.SnowflakeTimestamp(m.ID)
			if err != nil {
				return nil, fmt.Errorf("read when a message was posted: %w", err)
			}
			if at.Before(from.Add(-findSlack)) {
				return all, nil
			}
			if m.Author.Bot && strings.Contains(m.Content, "\n-# notice ") {
				first, _, _ := strings.Cut(m.Content, "\n")
				all = append(all, mentionsFirst.ReplaceAllString(first, ""))
			}
		}
		if len(list) < findPage {
			return all, nil
		}
		before = "&before=" + list[len(list)-1].ID
	}
	return all, nil
}
