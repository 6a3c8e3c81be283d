package store

import (
	"fmt"

	"setscrew/domain"
)

// maxProblems is how many open problems a snapshot holds.
const maxProblems = 50

// problems looks up the dangers that nobody has released the machine from, and
// the other problems that nobody has said are mended.
func (t *tx) problems(snap *domain.Snapshot) error {
	if err := t.dangers(snap); err != nil {
		return err
	}
	if err := t.withdrawnDangers(snap); err != nil {
		return err
	}
	snap.Problems = nil
	var p domain.OpenProblem
	if err := t.rows([]any{&p.Key, &p.First, &p.Last, &p.Reports},
		func() error { snap.Problems = append(snap.Problems, p); return nil },
		`SELECT key, min(fact_no), max(fact_no), count(*) FROM problem WHERE shop_id = ? AND machine_id = ?
			AND danger = 0 AND closed_by = 0
			GROUP BY key ORDER BY max(fact_no) DESC LIMIT ?`, t.shop, snap.Machine.ID, maxProblems); err != nil {
		return err
	}
	// Each with its first and last report, and what was found out about it.
	for i := range snap.Problems {
		open := &snap.Problems[i]
		first, err := t.fact(open.First)
		if err != nil {
			return err
		}
		last := first
		if open.Last != open.First {
			if last, err = t.fact(open.Last); err != nil {
				return err
			}
		}
		open.At, open.LastAt = first.At, last.At
		if b, ok := last.Body.(domain.Problem); ok {
			open.Doubt = b.Doubt
		}
		if b, ok := first.Body.(domain.Problem); ok {
			open.Name, open.Symptom, open.Returned = b.Name, b.Symptom, b.Returned
		}
		if err := t.about(snap.Machine.ID, open); err != nil {
			return err
		}
	}
	return nil
}

// mostFindings is how many answers about one problem are looked back on.
const mostFindings = 60

// about looks up who reported a problem, and what was answered and found about it
// since.
func (t *tx) about(machine domain.MachineID, problem *domain.OpenProblem) error {
	var who domain.PersonID
	if err := t.rows([]any{&who}, func() error { problem.By = append(problem.By, who); return nil },
		`SELECT DISTINCT f.for_id FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
			WHERE d.shop_id = ? AND d.machine_id = ? AND d.key = ? AND d.danger = 0 AND d.closed_by = 0
				ORDER BY f.for_id LIMIT ?`, t.shop, machine, problem.Key, maxProblems); err != nil {
		return err
	}
	if problem.Returned != 0 {
		f, err := t.fact(problem.Returned)
		if err != nil {
			return err
		}
		if b, ok := f.Body.(domain.Mended); ok {
			problem.Before = b.Cause
		}
	}
	found, err := t.found(machine, problem.Key, problem.First)
	problem.Found = found
	return err
}

// found is the last answer to each question, and about each cause, of a problem since
// a report.
func (t *tx) found(m domain.MachineID, key string, since domain.FactNo) (map[domain.Item]domain.FoundThen, error) {
	facts, err := t.lately(m, domain.KindFound, key, mostFindings)
	if err != nil {
		return nil, err
	}
	var found map[domain.Item]domain.FoundThen
	for _, fact := range facts {
		answer, ok := fact.Body.(domain.Found)
		if !ok || fact.No < since {
			continue
		}
		if found == nil {
			found = map[domain.Item]domain.FoundThen{}
		}
		found[answer.About] = domain.FoundThen{Fact: fact.No, At: fact.At, Answer: answer.Answer}
	}
	return found, nil
}

// withdrawnDangers looks up the dangers whose tags stand though their reports were taken
// back, where what they promised is asked for all the same. Tags are read before.
func (t *tx) withdrawnDangers(snap *domain.Snapshot) error {
	snap.Withdrawn = nil
	for _, tag := range snap.Tags {
		if !tag.ReportWithdrawn || tag.Reason.Code != domain.DangerSeen || tag.Because == 0 {
			continue
		}
		report, err := t.fact(tag.Because)
		if err != nil {
			return fmt.Errorf("read the report that the tag of no. %d rests on: %w", tag.Fact, err)
		}
		if report.Withdrawn == 0 {
			continue // the tag-out itself was taken back
		}
		withdrawal, err := t.fact(report.Withdrawn)
		if err != nil {
			return fmt.Errorf("read the withdrawal of no. %d: %w", report.No, err)
		}
		if problem, ok := report.Body.(domain.Problem); ok && domain.AsksStill(report, withdrawal) {
			snap.Withdrawn = append(snap.Withdrawn,
				domain.Danger{Fact: report.No, At: report.At, By: report.For, Problem: problem})
		}
	}
	return nil
}

// dangers looks up the dangers that nobody has released the machine from.
func (t *tx) dangers(snap *domain.Snapshot) error {
	snap.Dangers = nil
	var r factRow
	if err := t.rows(r.columns(), func() error {
		fact, err := r.fact(t.shop)
		if err != nil {
			return err
		}
		body, ok := fact.Body.(domain.Problem)
		if !ok {
			return fmt.Errorf("store: no. %d is no problem", fact.No)
		}
		snap.Dangers = append(snap.Dangers, domain.Danger{Fact: fact.No, At: fact.At, By: fact.For,
			Problem: body})
		return nil
	}, `SELECT f.no, f.machine_id, f.kind, f.at, f.recorded, f.by_id, f.for_id, f.hash, f.setup_rev, f.withdrawn, f.body
		FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
		WHERE d.shop_id = ? AND d.machine_id = ? AND d.danger = 1 AND d.closed_by = 0
			ORDER BY d.fact_no`, t.shop, snap.Machine.ID); err != nil {
		return err
	}
	for i := range snap.Dangers {
		danger := &snap.Dangers[i]
		found, err := t.found(snap.Machine.ID, danger.Problem.Key(), danger.Fact)
		if err != nil {
			return err
		}
		danger.Found = found
	}
	return nil
}
