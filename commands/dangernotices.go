package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"time"
)

// doubt calls the stewards about what may be dangerous, or says that it was answered.
func (n *notice) doubt() {
	if n.Lifted {
		n.headline("notice.doubt.answered")
		return
	}
	n.headline("notice.doubt.late")
	n.Mention = n.posted
	n.add("notice.doubt.do", nil)
	n.example("notice.doubt.stop", slash(tagoutName, "machine", n.Machine, "reason", n.Name))
	n.example("notice.doubt.safe", slash(mendedName, "machine", n.Machine, "problem", n.Name))
	waits := n.Fact
	if n.Seen != "" {
		waits = 0
	}
	n.seeTo(waits)
}

// unlikely calls the stewards about a reading that is unlikely, and waits or was said to be
// right; or says that it was answered.
func (n *notice) unlikely() {
	switch {
	case n.Lifted:
		n.headline("notice.unlikely.answered")
	case n.Confirmed:
		n.callStewards("notice.unlikely.confirmed")
	default:
		n.callStewards("notice.unlikely")
	}
}

// unseen calls those who are called about a danger that nobody has said they see to, or
// says what has become of it.
func (n *notice) unseen() {
	switch {
	case n.Seen != "":
		n.Headline = n.say("notice.unseen.seen", n.bySeen())
		return
	case n.Lifted:
		n.headline("notice.unseen.over")
		return
	}
	if people := n.shop.CalledLast(n.At); len(people) > 0 {
		n.Message.People = people
		n.data["People"] = personsText(people)
		n.headline("notice.unseen.people")
	} else {
		n.Mention = n.posted
		n.headline("notice.unseen")
	}
	n.data["Name"] = words.User(capital(n.Name))
	n.data["Minutes"] = int(domain.SeenWithin / time.Minute)
	n.add("notice.unseen.why", n.data)
	n.add("notice.unseen.do", nil)
	n.Buttons = []Button{n.seeToButton(n.machine, n.Fact)}
}

// seeTo says who sees to what a notice is about or, while danger is a report that nobody
// sees to, has a button for it.
func (n *notice) seeTo(danger domain.FactNo) {
	if danger != 0 {
		n.Buttons = []Button{n.seeToButton(n.machine, danger)}
	}
	switch {
	case n.Seen == "" || n.Seen == n.By:
	case danger != 0:
		n.add("notice.seen.part", n.bySeen())
	default:
		n.add("notice.seen", n.bySeen())
	}
}

// bySeen says who sees to a danger.
func (n *notice) bySeen() words.D {
	return words.D{"Machine": n.data["Machine"], "Name": n.data["Name"], "By": words.Person(string(n.Seen))}
}

// danger calls the stewards to a machine that is out of service already.
func (n *notice) danger() {
	n.data["Name"] = words.User(n.Name)
	n.callStewards("notice.danger")
	n.note()
	n.add("notice.danger.do", nil)
	n.add("tag.isolates-nothing", nil)
}

// unbooked tells of a danger that the books could not take, or that they have it now.
func (n *notice) unbooked() {
	if n.Booked != 0 {
		n.headline("notice.unbooked.since")
		n.nowBooked()
		return
	}
	n.Mention = n.posted
	n.headline("notice.unbooked")
	n.add("notice.unbooked.said", n.data)
	n.note()
	n.add("tag.isolates-nothing", nil)
	n.add("notice.unbooked.do", nil)
}

// nowBooked says that what was told from memory is in the books.
func (n *notice) nowBooked() {
	if n.Booked != 0 {
		n.add("notice.booked", words.D{"No": n.Booked})
	}
}
