package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// factLine says what a fact reports, in a few words.
func (w *wording) factLine(fact domain.Fact, machine domain.Machine) string {
	data := words.D{"Machine": words.User(machine.Name), "No": fact.No}
	name := func(check string) string {
		if machine.Profile != nil {
			if k := machine.Profile.Check(check); k != nil {
				return k.Name
			}
		}
		return check
	}
	// What each kind tells; a name that the profile has no more is told by its id.
	switch body := fact.Body.(type) {
	// Use, and what happened.
	case domain.Hours:
		data["Used"] = quantity.FormatDuration(body.Used())
	case domain.CounterRead:
		data["Shown"] = counterText(body)
	case domain.EventSeen:
		data["Event"] = body.Event
		if e := machine.Profile.Event(body.Event); e != nil {
			data["Event"] = e.Name
		}
	// Problems and what is behind them.
	case domain.Mended:
		data["Problem"] = words.User(body.Name)
	case domain.Found:
		data["Problem"], data["About"] = words.User(body.Key), body.About.String()
		if s := machine.Profile.Symptom(body.Key); s != nil {
			data["Problem"] = s.Name
		}
		if q := machine.Profile.Question(body.About.ID); body.About.Kind == domain.QuestionItem && q != nil {
			data["About"] = q.Ask
		}
		if k := machine.Profile.Cause(body.About.ID); body.About.Kind == domain.CauseItem && k != nil {
			data["About"] = k.Name
		}
		data["Answer"] = w.say("said."+string(body.Answer), nil)
	// Checks.
	case domain.Reading:
		data["Check"], data["Typed"] = name(body.Check), words.User(body.Typed)
	case domain.Inspection:
		data["Check"], data["Result"] = name(body.Check), w.say("sheet.failed", nil)
		if body.Pass {
			data["Result"] = w.say("sheet.passed", nil)
		}
	case domain.Problem:
		data["Problem"] = words.User(body.Name)
	// Services, the shelf, sets of knives.
	case domain.ServiceDone:
		data["Service"] = body.Service
		if s := machine.Profile.Service(body.Service); s != nil {
			data["Service"] = s.Name
		}
	case domain.StockCounted:
		data["Item"], data["Left"] = words.User(body.Name), body.Left
	case domain.SetMoved:
		data["Set"], data["Where"] = words.User(body.Set), w.say("blades.place."+string(body.Where), nil)
	// Who sees to what, and what is put off.
	case domain.SeenTo:
		data["By"] = words.Person(string(fact.For))
	case domain.AwaySet:
		data["By"] = words.Person(string(body.Away.Person))
	case domain.TakenOver:
		data["Of"] = body.Of
	case domain.PutOff:
		data["Service"] = nameOfService(machine, body.Service)
	case domain.SetupChanged:
		data["Of"] = body.Loosens
	case domain.Extended:
		data["Check"], data["Days"] = name(body.Check), body.Days
	case domain.Taken:
		data["Service"] = nameOfService(machine, body.Service)
	// Moves of a plan.
	case domain.Move:
		data["Check"] = name(body.Check)
	case domain.MoveAnswer:
		data["Of"], data["Check"] = body.Of, name(body.Check)
	// Tags and locks, by the report that hung them.
	case domain.TagOut:
		data["Reason"] = w.reason(body.Reason)
	case domain.Mistake:
		data["Of"] = body.Of
	case domain.LockAsked:
		data["Of"] = body.Tag
	case domain.LockKept:
		data["Of"] = body.Tag
	case domain.LockProcedure:
		data["Of"] = body.Tag
	case domain.LockOff:
		data["Of"], data["Procedure"] = body.Tag, body.Procedure
	// Gauge studies, and what is about other reports.
	case domain.StudyBegun:
		data["Gauge"], data["Check"] = words.User(body.Gauge), body.Name
	case domain.StudyReading:
		data["Study"], data["Part"] = body.Study, body.Part
	case domain.Ticked:
		data["Tick"] = body.Name
	case domain.Withdrawal:
		data["Of"] = body.Of
	case domain.ReadingConfirmed:
		data["Of"] = body.Of
	}
	return w.say("fact."+string(fact.Body.FactKind()), data)
}
