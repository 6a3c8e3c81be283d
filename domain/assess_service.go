package domain

import (
	"math"
	"math/big"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

func assessService(snap Snapshot, status Status, svc *profile.Service, now time.Time,
	days upkeep.Days) ServiceStatus {
	// Since when it counts, and by which rule.
	service := ServiceStatus{Service: svc, Began: LastService{At: snap.Machine.Added, Since: snap.Hours}}
	if e, ok := snap.Events[svc.After]; ok && svc.After != "" {
		service.Began = e
	}
	from := service.Began
	if last, done := snap.Services[svc.ID]; done && !last.At.Before(service.Began.At) {
		service.Last, from, service.Rule = last, last, svc.Every
	} else if service.Rule = svc.First; !service.Rule.Recurs() {
		service.Rule = svc.Every
	}
	// On a machine that came in use already its place in the first weeks comes first.
	place, spread := status.spread[ServiceItem.Of(svc.ID)]
	if spread {
		own := svc.First
		if !own.Recurs() {
			own = svc.Every
		}
		spread = service.Began.Fact == 0 &&
			!sooner(own, place, upkeep.Use{From: upkeep.Done{At: status.Began}}, now, days)
	}
	if spread && service.Last.Fact == 0 {
		service.Began.At = status.Began
		service.Rule, service.Spread, from = place, true, service.Began
	}
	// When it falls due, and what else asks for it.
	if service.Rule.Recurs() {
		use := upkeep.Use{From: counted(from)}
		if service.Rule.CountsAll() && service.Last.Fact != 0 {
			use = allDone(snap.Done[svc.ID], service, spread || svc.First.Recurs())
		}
		service.Due = upkeep.When(service.Rule, use, now, days)
		service.TooEarly = len(use.Done) > 0 && service.Due.Counted < len(use.Done)-1
	}
	service.trigger(snap)
	// Whether it was put off, or somebody has taken it on.
	if p, ok := snap.PutOff[svc.ID]; ok && !p.At.Before(service.From().At) {
		if now.Before(p.Until) {
			service.PutOff = &p
		} else {
			service.Lapsed = p.Fact
		}
	}
	if k, ok := snap.Taken[svc.ID]; ok && !k.At.Before(service.From().At) {
		service.Taken = &k
	}
	return service
}

// scaled is a snapshot with the hours reported since the counter was last read,
// or all of them where the ratio is another machine's, taken that many times over.
func scaled(snap Snapshot, ratio float64) Snapshot {
	if snap.Counter == nil && snap.Like == "" || ratio <= 1 {
		return snap
	}
	more := big.NewRat(int64(math.Round((ratio-1)*1e6)), 1_000_000)
	lately := snap.Hours
	if snap.Counter != nil {
		lately = snap.Counter.Since
	}
	add := func(since quantity.Value) quantity.Value {
		part := since
		if part.Cmp(lately) > 0 {
			part = lately
		}
		return since.Add(part.Mul(more))
	}
	each := func(all map[string]LastService) map[string]LastService {
		out := map[string]LastService{}
		// any order: fills a map
		for id, l := range all {
			l.Since = add(l.Since)
			out[id] = l
		}
		return out
	}
	snap.Services, snap.Events = each(snap.Services), each(snap.Events)
	done := map[string][]LastService{}
	// any order: fills a map
	for id, all := range snap.Done {
		for _, l := range all {
			l.Since = add(l.Since)
			done[id] = append(done[id], l)
		}
	}
	snap.Done = done
	snap.Hours = add(snap.Hours)
	return snap
}

func counted(l LastService) upkeep.Done {
	return upkeep.Done{At: l.At, Since: l.Since, Asked: l.Asked}
}

// allDone is what a rule is counted from that counts every time: everything done
// since counting began. Where a first rule came before, its time counts whatever it was.
func allDone(all []LastService, service ServiceStatus, first bool) upkeep.Use {
	if len(all) == 0 {
		return upkeep.Use{From: counted(service.Last)}
	}
	use := upkeep.Use{From: counted(service.Began)}
	for _, last := range all {
		switch {
		case last.At.Before(service.Began.At):
		case first && use.From == counted(service.Began):
			use.From = counted(last)
		default:
			use.Done = append(use.Done, counted(last))
		}
	}
	return use
}

// trigger makes a service due that is done on a problem, or on a check
// outside its adjust limits, from when that was reported until it is done.
func (s *ServiceStatus) trigger(snap Snapshot) {
	because := func(at time.Time, fact FactNo, name string) {
		if s.Last.Fact != 0 && !at.After(s.Last.At) {
			return
		}
		s.Because = append(s.Because, Trigger{name, at, fact})
		s.Due.State = max(s.Due.State, upkeep.DueNow)
		s.Due.Open = true
	}
	for _, id := range s.Service.OnProblems {
		for _, p := range snap.Problems {
			if p.Key == id {
				because(p.LastAt, p.Last, p.Name)
			}
		}
	}
	for _, id := range s.Service.OnChecks {
		check := snap.Machine.Profile.Check(id)
		latest, read := snap.Latest[id]
		if check == nil || !read {
			continue
		}
		cs := CheckStatus{Check: check, Latest: latest}
		switch {
		case latest.Inspection != nil && !latest.Inspection.Pass:
			because(latest.At, latest.Fact, check.Name)
		case latest.Reading != nil:
			cs.Check = check.In(latest.Reading.Mode)
			if judge(&cs, latest.Reading); cs.Grade >= metrology.Adjust {
				because(latest.At, latest.Fact, check.Name)
			}
		}
	}
}

// share is how much of the interval is left, the least by hours or by days.
func (s ServiceStatus) share(now time.Time) float64 {
	left := 1.0
	if s.Due.Left.Valid() {
		f, _ := s.Due.Left.Per(s.Rule.Hours).Float64()
		left = min(left, f)
	}
	if days := float64(s.Rule.Days) + 30*float64(s.Rule.Months); !s.Due.On.IsZero() {
		// By the clocks on the wall, which a change of them does not make a day shorter.
		wall := func(t time.Time) time.Time {
			t = t.In(s.Due.On.Location())
			return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
		}
		left = min(left, wall(s.Due.On).Sub(wall(now)).Hours()/24/max(days, 1))
	}
	return left
}
