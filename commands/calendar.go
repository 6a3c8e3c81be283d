package commands

import (
	"fmt"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"setscrew/commands/words"
	"setscrew/domain"
)

// calendarFile is what falls due by the calendar on machines, as an iCalendar
// file (RFC 5545): an all-day event for each service and each inspection, whose
// UID stays the same from one file to the next, so that a calendar program moves
// it instead of adding another; and the visits of the shop's plan at their times. What hangs on hours of use alone has no day.
func (c *call) calendarFile(all []domain.Status, visits []domain.Visit) *File {
	cal := ics.NewCalendarFor("Setscrew")
	cal.SetMethod(ics.MethodPublish)
	cal.SetName(words.Clean(c.shop.Name))
	add := func(st domain.Status, id, name, how string, on time.Time) {
		if on.IsZero() {
			return
		}
		e := cal.AddEvent(fmt.Sprintf("m%d-%s@%s.setscrew", st.Machine.ID, id, c.shop.ID))
		e.SetDtStampTime(c.now.UTC())
		day := on.In(c.shop.Location())
		e.SetAllDayStartAt(day)
		e.SetAllDayEndAt(day.AddDate(0, 0, 1))
		e.SetSummary(words.Clean(st.Machine.Name) + ": " + name)
		e.SetDescription(how)
	}
	for _, st := range all {
		for _, s := range st.Services {
			add(st, "service-"+s.Service.ID, s.Service.Name, c.ruleLine(st.Machine.Profile, s.Service), s.Due.On)
		}
		for _, k := range st.RecurringChecks() {
			add(st, "check-"+k.Check.ID, k.Check.Name, k.Check.Measured, k.Due.On)
		}
	}
	count := map[domain.MachineID]int{}
	for _, v := range visits {
		i := slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == v.Machine })
		if i < 0 {
			continue
		}
		count[v.Machine]++
		e := cal.AddEvent(fmt.Sprintf("m%d-visit-%d@%s.setscrew", v.Machine, count[v.Machine], c.shop.ID))
		e.SetDtStampTime(c.now.UTC())
		e.SetStartAt(v.At.UTC())
		e.SetEndAt(v.At.UTC().Add(time.Duration(v.Minutes+domain.VisitMinutes) * time.Minute))
		e.SetSummary(words.Expand(c.say("visits.event", words.D{"Machine": words.User(all[i].Machine.Name), "Jobs": len(v.Items)}), onPaper{c.shop}))
		e.SetDescription(strings.Join(workNames(all[i].Machine, v.Items), "\n"))
	}
	return &File{Name: "due.ics", Type: "text/calendar", Data: []byte(cal.Serialize(ics.WithNewLineWindows))}
}
