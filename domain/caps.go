package domain

import (
	"math"
	"math/big"

	"setscrew/domain/linkage"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// CapStatus is what the boards say of spring caps.
type CapStatus struct {
	Cap     profile.Cap
	Reports []CapReport
	Now     quantity.Value // the height by its latest reading, absent if it was never read
	Set     quantity.Value // the height to set next, absent for none
	linkage.CapAdvice
}

// Caps is what boards have shown of spring caps, and what to do about them. Like
// Adjusting it is for words, never asked for in a transaction.
func (s Status) Caps() []CapStatus {
	snap := s.known
	if snap == nil {
		return nil
	}
	var all []CapStatus
	for _, cap := range snap.Machine.Profile.Caps {
		reports := snap.Caps[cap.Check]
		if len(reports) == 0 {
			continue
		}
		check := snap.Machine.Profile.Check(cap.Check)
		one := CapStatus{Cap: cap, Reports: reports}
		var shown []linkage.CapReport
		for _, r := range reports {
			shown = append(shown, linkage.CapReport{Height: inBase(r.Height), Marks: r.Marks, Stutters: r.Stutters})
		}
		l, read := snap.Latest[cap.Check]
		if read && l.Reading != nil && !snap.Moved[cap.Check].At.After(l.At) {
			one.Now = l.Reading.Values[0].Mean()
			one.CapAdvice = linkage.NextCap(shown, inBase(one.Now), inBase(check.Stop.Low), inBase(check.Stop.High),
				inBase(cap.Step))
			if one.Move {
				one.Set = cap.Step.Mul(big.NewRat(int64(math.Round(one.Next/inBase(cap.Step))), 1))
			}
		}
		all = append(all, one)
	}
	return all
}
