package store

import (
	"bufio"
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"setscrew/domain"
)

// ForgottenOf is the list of who was forgotten of the books at a path. It lies beside them,
// so that they are forgotten again in an older copy that takes the books' place.
func ForgottenOf(path string) string { return path + ".forgotten" }

// forgotten is a person who was forgotten, a line of that list: known by a hash alone, so
// that the list tells nobody who it was.
type forgotten struct {
	Shop   domain.ShopID   `json:"shop"`
	Salt   string          `json:"salt"`
	Hash   string          `json:"hash"` // of the salt and the id
	Former domain.PersonID `json:"former"`
	At     time.Time       `json:"at"` // what was reported until then is theirs no more
}

// is reports whether it is a person of a shop.
func (f forgotten) is(shop domain.ShopID, p domain.PersonID) bool {
	return f.Shop == shop && f.Hash == forgottenHash(f.Salt, p)
}

func forgottenHash(salt string, p domain.PersonID) string {
	sum := sha256.Sum256([]byte(salt + string(p)))
	return hex.EncodeToString(sum[:])
}

// readForgotten reads a list of who was forgotten; none is an empty one. A last line that
// was not written to its end counts for nothing: nobody was told that they are forgotten.
func readForgotten(path string) (all []forgotten, err error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("store: read who was forgotten: %w", err)
	}
	whole := text[:bytes.LastIndexByte(text, '\n')+1]
	lines := bufio.NewScanner(bytes.NewReader(whole))
	for n := 1; lines.Scan(); n++ {
		var one forgotten
		if err := json.Unmarshal(lines.Bytes(), &one); err != nil || one.Hash == "" || !one.Former.Former() {
			return nil, fmt.Errorf("store: read who was forgotten: %s, line %d, is none of ours: %w", path, n,
				errors.Join(err, errors.ErrUnsupported))
		}
		all = append(all, one)
	}
	return all, nil
}

// rememberForgotten adds a person to a list, by the id that stands for them there already
// or a new one, and returns that once the disk holds it; *domain.Refusal with ForgottenLately
// where they were added lately.
func rememberForgotten(path string, shop domain.ShopID, person domain.PersonID, at time.Time) (domain.PersonID, error) {
	all, err := readForgotten(path)
	if err != nil {
		return "", err
	}
	var one forgotten
	if i := slices.IndexFunc(all, func(f forgotten) bool { return f.is(shop, person) }); i >= 0 {
		one = all[i]
		for _, before := range all[i:] {
			if again := before.At.Add(domain.ForgetAgain); before.is(shop, person) && at.Before(again) {
				return "", &domain.Refusal{Code: domain.ForgottenLately, At: again}
			}
		}
	} else {
		random := make([]byte, 20)
		if _, err := rand.Read(random); err != nil {
			return "", fmt.Errorf("store: draw a salt: %w", err)
		}
		salt := hex.EncodeToString(random[:16])
		one = forgotten{Shop: shop, Salt: salt, Hash: forgottenHash(salt, person),
			Former: domain.FormerID(hex.EncodeToString(random[16:]))}
	}
	one.At = at.UTC()
	return one.Former, writeForgotten(path, append(all, one))
}

// writeForgotten writes a list, whole or not at all; nobody else may read it.
func writeForgotten(path string, all []forgotten) (err error) {
	var text bytes.Buffer
	for _, one := range all {
		line, err := json.Marshal(one)
		if err != nil {
			return fmt.Errorf("store: write who was forgotten: %w", err)
		}
		text.Write(append(line, '\n'))
	}
	part := path + ".part"
	if err := os.WriteFile(part, text.Bytes(), 0o600); err != nil {
		return fmt.Errorf("store: write who was forgotten: %w", err)
	}
	if err := putInPlace(part, path); err != nil {
		return fmt.Errorf("store: write who was forgotten, in %s: %w", filepath.Dir(path), err)
	}
	return nil
}

// mergeForgotten adds to one list what another has that it lacks.
func mergeForgotten(path, other string) error {
	if other == "" {
		return nil
	}
	if _, err := os.Stat(other); err != nil {
		return fmt.Errorf("store: read who was forgotten: %w", err)
	}
	have, err := readForgotten(path)
	if err != nil {
		return err
	}
	more, err := readForgotten(other)
	if err != nil {
		return err
	}
	for _, one := range more {
		if !slices.Contains(have, one) {
			have = append(have, one)
		}
	}
	return writeForgotten(path, have)
}
