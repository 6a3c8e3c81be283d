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
// it instead of adding another; and the visits of the shop's plan at their times.
// What hangs on hours of use alone has no day.
func (c *call) calendarFile(all []domain.Status, visits []domain.Visit) *File {
	cal := ics.NewCalendarFor("Setscrew")
	cal.SetMethod(ics.MethodPublish)
	cal.SetName(words.Clean(c.shop.Name))
	// What falls due by the calendar, a whole day each.
	add := func(st domain.Status, id, name, how string, on time.Time) {
		if on.IsZero() {
			return
		}
		event := cal.AddEvent(fmt.Sprintf("m%d-%s@%s.setscrew", st.Machine.ID, id, c.shop.ID))
		event.SetDtStampTime(c.now.UTC())
		day := on.In(c.shop.Location())
		event.SetAllDayStartAt(day)
		event.SetAllDayEndAt(day.AddDate(0, 0, 1))
		event.SetSummary(words.Clean(st.Machine.Name) + ": " + name)
		event.SetDescription(how)
	}
	for _, st := range all {
		if st.SettingUp {
			continue // a release asks for what it needs
		}
		for _, s := range st.Services {
			add(st, "service-"+s.Service.ID, s.Service.Name, c.ruleLine(st.Machine.Profile, s.Service), s.Due.On)
		}
		for _, k := range st.RecurringChecks() {
			add(st, "check-"+k.Check.ID, k.Check.Name, k.Check.Measured, k.Due.On)
		}
	}
	// The visits of the plan, at their times; those of a machine are counted through.
	count := map[domain.MachineID]int{}
	for _, visit := range visits {
		at := slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == visit.Machine })
		if at < 0 {
			continue
		}
		count[visit.Machine]++
		entry := cal.AddEvent(fmt.Sprintf("m%d-visit-%d@%s.setscrew", visit.Machine, count[visit.Machine], c.shop.ID))
		entry.SetDtStampTime(c.now.UTC())
		entry.SetStartAt(visit.At.UTC())
		entry.SetEndAt(visit.At.UTC().Add(time.Duration(visit.Minutes+domain.VisitMinutes) * time.Minute))
		entry.SetSummary(words.Expand(c.say("visits.event",
			words.D{"Machine": words.User(all[at].Machine.Name), "Jobs": len(visit.Items)}), onPaper{c.shop}))
		entry.SetDescription(strings.Join(workNames(all[at].Machine, visit.Items), "\n"))
	}
	return &File{Name: "due.ics", Type: "text/calendar", Data: []byte(cal.Serialize(ics.WithNewLineWindows))}
}
