package bot

import (
	"context"
	"encoding/json"
	"sync"
	"time"

	"setscrew/domain"
)

// Memory keeps over a restart what a bot would else tell twice, or never: answers that could
// not be delivered, and what was found out of channels and roles.
type Memory interface {
	// Unseen lists the answers that could not be delivered, and of which nobody was told since.
	Unseen(ctx context.Context, now time.Time) ([]domain.Unseen, error)
	// KeepUnseen notes one in place of one before or, where it says nothing, that its person
	// has been told.
	KeepUnseen(ctx context.Context, one domain.Unseen) error
	// Troubles is what was found out of each shop's channel and role, as NoteTrouble was given
	// it.
	Troubles(ctx context.Context) (map[domain.ShopID][]byte, error)
	// NoteTrouble notes it; nil for nothing.
	NoteTrouble(ctx context.Context, shop domain.ShopID, found []byte) error
	// Untold lists the tag-outs that were tried to be posted and could not be yet.
	Untold(ctx context.Context) ([]domain.Undelivered, error)
}

// unseenAnswers are the answers that could not be delivered, in memory and in a Memory.
type unseenAnswers struct {
	mu  sync.Mutex
	all map[unseenKey]domain.Unseen
}

type unseenKey struct {
	shop   domain.ShopID
	person domain.PersonID
}

// keepWithin is how long the books may take to keep what is known.
const keepWithin = time.Second

// mostUnseen is how many people's are kept in memory.
const mostUnseen = 5000

// put keeps one in memory, or takes it out where it says nothing.
func (u *unseenAnswers) put(one domain.Unseen) {
	key := unseenKey{one.Shop, one.Person}
	switch {
	case one.Said == "":
		delete(u.all, key)
	case len(u.all) < mostUnseen || u.all[key].Said != "":
		u.all[key] = one
	}
}

// missed takes the answer that a member may not have seen, "" for none, out of memory.
func (b *Bot) missed(shop domain.ShopID, person domain.PersonID) string {
	b.unseen.mu.Lock()
	defer b.unseen.mu.Unlock()
	key := unseenKey{shop, person}
	said := b.unseen.all[key].Said
	delete(b.unseen.all, key)
	return said
}

// keepUnseen keeps the answer that a member has not seen, in place of what missed took; ""
// that there is none any more, unless another has come to be since.
func (b *Bot) keepUnseen(shop domain.ShopID, person domain.PersonID, took, said string) {
	one := domain.Unseen{Shop: shop, Person: person, Said: said, At: b.clock.now()}
	b.unseen.mu.Lock()
	newer := b.unseen.all[unseenKey{shop, person}].Said
	if said != "" {
		b.unseen.put(one)
	}
	b.unseen.mu.Unlock()
	if b.cfg.Memory == nil || took == said || said == "" && newer != "" {
		return
	}
	// What is cut off at the end is kept, too.
	ctx, stop := context.WithTimeout(context.WithoutCancel(b.answering), keepWithin)
	defer stop()
	if err := b.cfg.Memory.KeepUnseen(ctx, one); err != nil {
		b.cfg.Log.Warn("an answer that was not delivered is kept in memory alone", "shop", shop, "error", err)
	}
}

// remember takes up what was known when the program ended.
func (b *Bot) remember(ctx context.Context) {
	if b.cfg.Memory == nil {
		return
	}
	failed := func(err error) bool {
		if err != nil && ctx.Err() == nil {
			b.cfg.Log.Warn("what was known before is not remembered", "error", err)
		}
		return err != nil
	}
	if all, err := b.cfg.Memory.Unseen(ctx, b.clock.now()); !failed(err) {
		b.unseen.mu.Lock()
		for _, one := range all {
			b.unseen.put(one)
		}
		b.unseen.mu.Unlock()
	}
	if all, err := b.cfg.Memory.Troubles(ctx); !failed(err) {
		failed(b.access.recall(all))
	}
	if all, err := b.cfg.Memory.Untold(ctx); !failed(err) {
		for _, one := range all {
			b.access.notePost(one.Shop, one.Notice, errUntold)
		}
	}
}

// keepTroubles writes down what was found out of channels and roles since it last did.
func (b *Bot) keepTroubles(ctx context.Context) {
	if b.cfg.Memory == nil {
		return
	}
	changed, err := b.access.unkept()
	// any order: each shop's is its own
	for shop, found := range changed {
		if err = b.cfg.Memory.NoteTrouble(ctx, shop, found); err != nil {
			break
		}
		b.access.keptNow(shop, found)
	}
	if err != nil && ctx.Err() == nil {
		b.cfg.Log.Debug("what was found out of channels is kept in memory alone", "error", err)
	}
}

// found is what was found out of a shop's channel and role, as it is kept.
type found struct {
	Failing *failure `json:"failing,omitempty"`
	Logged  bool     `json:"logged,omitempty"`
	Pinless string   `json:"pinless,omitempty"`
	Pinged  *pinged  `json:"pinged,omitempty"`
	Lacking *lacking `json:"lacking,omitempty"`
}

// foundOf is what was found out of a shop, under the lock; nil for nothing that ails it.
func (a *access) foundOf(shop domain.ShopID) ([]byte, error) {
	var now found
	if last, ok := a.failing[shop]; ok {
		now.Failing = &last
	}
	now.Logged, now.Pinless = a.logged[shop], a.pinless[shop]
	if last, ok := a.pinged[shop]; ok && !last.Really {
		now.Pinged = &last
	}
	if last := a.lacking[shop]; last != "" {
		now.Lacking = &last
	}
	if now == (found{}) {
		return nil, nil
	}
	return json.Marshal(now)
}

// recall takes up what was found out of shops before.
func (a *access) recall(all map[domain.ShopID][]byte) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	// any order: each shop's is its own
	for shop, text := range all {
		var was found
		if err := json.Unmarshal(text, &was); err != nil {
			return err
		}
		a.kept[shop] = string(text)
		if was.Failing != nil {
			a.failing[shop] = *was.Failing
		}
		if was.Logged {
			a.logged[shop] = true
		}
		if was.Pinless != "" {
			a.pinless[shop] = was.Pinless
		}
		if was.Pinged != nil {
			a.pinged[shop] = *was.Pinged
		}
		if was.Lacking != nil {
			a.lacking[shop] = *was.Lacking
		}
	}
	return nil
}

// unkept is what was found out of shops of which something else is kept.
func (a *access) unkept() (map[domain.ShopID][]byte, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	shops := map[domain.ShopID]bool{}
	addShops(shops, a.failing)
	addShops(shops, a.pinless)
	addShops(shops, a.pinged)
	addShops(shops, a.lacking)
	addShops(shops, a.kept)
	changed := map[domain.ShopID][]byte{}
	// any order: each shop's is its own
	for shop := range shops {
		now, err := a.foundOf(shop)
		if err != nil {
			return nil, err
		}
		if string(now) != a.kept[shop] {
			changed[shop] = now
		}
	}
	return changed, nil
}

// addShops puts a map's shops into a set.
func addShops[V any](to map[domain.ShopID]bool, from map[domain.ShopID]V) {
	// any order: it is a set
	for shop := range from {
		to[shop] = true
	}
}

// keptNow notes what is kept of a shop.
func (a *access) keptNow(shop domain.ShopID, found []byte) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.kept[shop] = string(found); found == nil {
		delete(a.kept, shop)
	}
}
