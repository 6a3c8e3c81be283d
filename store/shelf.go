package store

import (
	"context"
	"slices"
	"strings"

	"setscrew/domain"
)

// Shelf lists what is kept on the shop's shelf, by name.
func (s *Shop) Shelf(ctx context.Context) (all []domain.Shelf, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { all, err = t.shelf(); return err })
	return all, err
}

func (t *tx) shelf() (all []domain.Shelf, err error) {
	var r factRow
	var facts []domain.Fact
	if err := t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		facts = append(facts, f)
		return err
	}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = 0 AND kind = 'stock' AND withdrawn = 0
		AND believed = 1 ORDER BY subject, at DESC, no DESC`, t.shop); err != nil {
		return nil, err
	}
	last := ""
	for _, fact := range facts {
		counted, _ := fact.Body.(domain.StockCounted)
		if name := domain.Folded(counted.Name); name == last {
			continue
		} else {
			last = name
		}
		if counted.Gone {
			continue
		}
		var took int
		if _, err := t.row([]any{&took},
			`SELECT coalesce(sum(n), 0) FROM took WHERE shop_id = ? AND folded = ? AND at > ?`, t.shop, last,
			stamp(fact.At)); err != nil {
			return nil, err
		}
		all = append(all, domain.Shelf{Fact: fact.No, At: fact.At, Name: counted.Name,
			Left: max(counted.Left-took, 0), Buy: counted.Buy})
	}
	slices.SortFunc(all, func(a, b domain.Shelf) int {
		return strings.Compare(domain.Folded(a.Name), domain.Folded(b.Name))
	})
	return all, nil
}

// take notes what a fact's work took from the shelf.
func (t *tx) take(fact domain.Fact, took *domain.Took) error {
	if took == nil {
		return nil
	}
	return t.exec(`INSERT INTO took (shop_id, folded, at, fact_no, n) VALUES (?, ?, ?, ?, ?)`, t.shop,
		domain.Folded(took.Name), stamp(fact.At), fact.No, took.N)
}

// putBack undoes take.
func (t *tx) putBack(f domain.Fact) error {
	return t.exec(`DELETE FROM took WHERE shop_id = ? AND fact_no = ?`, t.shop, f.No)
}
