package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// factLine says what a fact reports, in a few words.
func (w *wording) factLine(f domain.Fact, m domain.Machine) string {
	d := words.D{"Machine": words.User(m.Name), "No": f.No}
	name := func(check string) string {
		if m.Profile != nil {
			if k := m.Profile.Check(check); k != nil {
				return k.Name
			}
		}
		return check
	}
	switch b := f.Body.(type) {
	case domain.Hours:
		d["Used"] = quantity.FormatDuration(b.Used())
	case domain.CounterRead:
		d["Shown"] = counterText(b)
	case domain.EventSeen:
		d["Event"] = b.Event
		if e := m.Profile.Event(b.Event); e != nil {
			d["Event"] = e.Name
		}
	case domain.Mended:
		d["Problem"] = words.User(b.Name)
	case domain.Found:
		d["Problem"], d["About"] = words.User(b.Key), b.About.String()
		if s := m.Profile.Symptom(b.Key); s != nil {
			d["Problem"] = s.Name
		}
		if q := m.Profile.Question(b.About.ID); b.About.Kind == domain.QuestionItem && q != nil {
			d["About"] = q.Ask
		}
		if k := m.Profile.Cause(b.About.ID); b.About.Kind == domain.CauseItem && k != nil {
			d["About"] = k.Name
		}
		d["Answer"] = w.say("said."+string(b.Answer), nil)
	case domain.Reading:
		d["Check"], d["Typed"] = name(b.Check), words.User(b.Typed)
	case domain.Inspection:
		d["Check"], d["Result"] = name(b.Check), w.say("sheet.failed", nil)
		if b.Pass {
			d["Result"] = w.say("sheet.passed", nil)
		}
	case domain.Problem:
		d["Problem"] = words.User(b.Name)
	case domain.ServiceDone:
		d["Service"] = b.Service
		if s := m.Profile.Service(b.Service); s != nil {
			d["Service"] = s.Name
		}
	case domain.StockCounted:
		d["Item"], d["Left"] = words.User(b.Name), b.Left
	case domain.SetMoved:
		d["Set"], d["Where"] = words.User(b.Set), w.say("blades.place."+string(b.Where), nil)
	case domain.TakenOver:
		d["Of"] = b.Of
	case domain.PutOff:
		d["Service"] = nameOfService(m, b.Service)
	case domain.Taken:
		d["Service"] = nameOfService(m, b.Service)
	case domain.Move:
		d["Check"] = name(b.Check)
	case domain.MoveAnswer:
		d["Of"], d["Check"] = b.Of, name(b.Check)
	case domain.TagOut:
		d["Reason"] = w.reason(b.Reason)
	case domain.StudyBegun:
		d["Gauge"], d["Check"] = words.User(b.Gauge), b.Name
	case domain.StudyReading:
		d["Study"], d["Part"] = b.Study, b.Part
	case domain.Withdrawal:
		d["Of"] = b.Of
	case domain.ReadingConfirmed:
		d["Of"] = b.Of
	}
	return w.say("fact."+string(f.Body.FactKind()), d)
}
