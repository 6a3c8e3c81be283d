package commands

import (
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Render puts a notice into words, as they are to stand in the channel.
func (d *Desk) Render(shop domain.Shop, owed domain.Notice) Message {
	a, render := owed.Args, noticeTopics[owed.Topic]
	group := lastOfEach(owed.Group)
	switch len(group) {
	case 0:
	case 1:
		a, render = group[0].Args, noticeTopics[group[0].Topic]
	default:
		render = func(n *notice) { n.several(group) }
	}
	inWords := &notice{wording: wording{speaker: d.cat.In(), shop: shop, now: a.At}, NoticeArgs: a,
		posted: owed.Op == domain.Post, machine: owed.Machine,
		data: words.D{"Machine": words.User(a.Machine), "Name": words.User(a.Name), "No": a.Fact,
			"Typed": words.User(a.Typed)}}
	if render != nil {
		render(inWords)
	}
	m := inWords.Message
	m.Text = strings.Join(append([]string{m.Headline}, inWords.lines...), "\n")
	return m
}

// notice is a notice on its way into words.
type notice struct {
	wording
	domain.NoticeArgs
	posted  bool // it is a new message, not an edit of one
	machine domain.MachineID
	data    words.D // what most of its messages are about
	Message
	lines []string // below the headline
}

// noticeTopics are the words of each topic.
var noticeTopics = map[domain.Topic]func(*notice){
	domain.TopicTagOut:     (*notice).tagOut,
	domain.TopicBack:       (*notice).back,
	domain.TopicTest:       (*notice).underTest,
	domain.TopicTestAsk:    (*notice).askTest,
	domain.TopicTestEnded:  func(n *notice) { n.headline("notice.test.ended") },
	domain.TopicProblem:    (*notice).problem,
	domain.TopicMended:     (*notice).mended,
	domain.TopicTold:       (*notice).told,
	domain.TopicDue:        (*notice).due,
	domain.TopicNotDue:     func(n *notice) { n.headline("notice.not-due") },
	domain.TopicPutOff:     (*notice).putOff,
	domain.TopicDone:       func(n *notice) { n.headline("notice.done") },
	domain.TopicUnlikely:   func(n *notice) { n.callStewards("notice.unlikely") },
	domain.TopicRanTagged:  (*notice).ranTagged,
	domain.TopicOutOfTrue:  (*notice).outOfTrue,
	domain.TopicDigest:     (*notice).digest,
	domain.TopicWarned:     (*notice).warned,
	domain.TopicDoubt:      (*notice).doubt,
	domain.TopicUnbooked:   (*notice).unbooked,
	domain.TopicDanger:     (*notice).danger,
	domain.TopicUnseen:     (*notice).unseen,
	domain.TopicPhoto:      (*notice).photo,
	domain.TopicLoosening:  (*notice).loosening,
	domain.TopicLoosened:   (*notice).loosened,
	domain.TopicUnproved:   (*notice).unproved,
	domain.TopicLockAsked:  (*notice).lockAsked,
	domain.TopicLockNoted:  (*notice).lockNoted,
	domain.TopicLockKept:   (*notice).lockKept,
	domain.TopicLockOff:    (*notice).lockOff,
	domain.TopicLockOver:   (*notice).lockOver,
	domain.TopicMeasureNow: (*notice).measure,
}

// headline heads the notice with a message.
func (n *notice) headline(key string) { n.Headline = n.say(key, n.data) }

// callStewards heads the notice with a message that calls the stewards.
func (n *notice) callStewards(key string) {
	n.Mention = true
	n.headline(key)
}

// add puts a message below the headline.
func (n *notice) add(key string, data words.D) { n.lines = append(n.lines, n.say(key, data)) }

// example puts a message with a command below the headline.
func (n *notice) example(key, command string) { n.add(key, words.D{"Example": command}) }

// list puts lines below the headline, each behind a dash.
func (n *notice) list(lines []string) {
	for _, line := range lines {
		n.lines = append(n.lines, "- "+line)
	}
}

// tagOut keeps up a machine's time out of service, until its tags are lifted.
func (n *notice) tagOut() {
	var tags []string
	for _, t := range n.Tags {
		tags = append(tags, n.tagLine(t))
	}
	switch {
	case n.Mistake:
		n.headline("notice.mistake")
	case n.Lifted:
		n.headline("notice.lifted")
	}
	if n.Lifted {
		n.list(tags)
		return
	}
	n.Mention = n.posted
	n.headline("tag.headline")
	n.nowBooked()
	// The caution comes first, so that a long list cannot push it out.
	n.add("tag.isolates-nothing", nil)
	if n.By != "" {
		n.add("notice.test", n.byWhom())
	}
	n.seeTo(n.Unseen)
	if len(n.Others) > 0 {
		n.add("notice.others", n.others())
	}
	n.list(tags)
	if len(n.Needs) == 0 {
		n.add("notice.release", n.data)
		return
	}
	n.add("notice.release.needs", n.data)
	n.list(n.blockerLines(n.Needs))
}

// byWhom says who tests the machine.
func (n *notice) byWhom() words.D {
	return words.D{"Machine": n.data["Machine"], "By": words.Person(string(n.By))}
}

// others names the machines that must not run without this one.
func (n *notice) others() words.D {
	return words.D{"Machine": n.data["Machine"], "Others": words.Users(n.Others)}
}

// back says that a machine is in service again.
func (n *notice) back() {
	key := "notice.back"
	if n.Begins {
		key = "notice.begins"
	}
	n.headline(key)
	n.add("notice.back.guards", nil)
	if len(n.Others) > 0 {
		n.add("notice.others.back", n.others())
	}
}

// underTest says that a machine runs under test, and by whom.
func (n *notice) underTest() {
	n.Headline = n.say("notice.test", n.byWhom())
	n.add("notice.test.clear", nil)
}

// askTest asks whoever tests a machine that runs unattended whether it goes on.
func (n *notice) askTest() {
	n.Message.People = n.NoticeArgs.People
	n.Headline = n.say("notice.test.ask", n.byWhom())
	n.example("notice.test.go-on", slash("release", "machine", n.Machine))
}

// problem says what members have reported, and what may be done about it.
func (n *notice) problem() {
	n.data["N"] = n.Reports
	n.callStewards("notice.problem")
	n.nowBooked()
	if n.Doubt {
		n.add("notice.doubt", nil)
		n.example("notice.doubt.stop", "/tagout machine:"+quoted(n.Machine)+" reason:"+quoted(n.Name))
	}
	if n.Back != 0 {
		n.add("notice.problem-back", words.D{"No": n.Back})
	}
	n.note()
	n.picture()
	of := " machine:" + quoted(n.Machine) + " problem:" + quoted(n.Name)
	if n.Causes {
		n.example("notice.causes", "/cause"+of)
	}
	n.example("notice.mended-with", "/mended"+of)
}

// photo shows what a report came with.
func (n *notice) photo() {
	n.headline("notice.photo.of")
	n.picture()
}

// picture names the picture that comes with the message, if there is one.
func (n *notice) picture() {
	if n.Photo != nil {
		n.add("notice.photo", words.D{"Name": words.Link(n.Photo.URL, n.Photo.Name)})
	}
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

// doubt calls the stewards about what may be dangerous, or says that it was answered.
func (n *notice) doubt() {
	if n.Lifted {
		n.headline("notice.doubt.answered")
		return
	}
	n.headline("notice.doubt.late")
	n.Mention = n.posted
	n.add("notice.doubt.do", nil)
	n.example("notice.doubt.stop", "/tagout machine:"+quoted(n.Machine)+" reason:"+quoted(n.Name))
	n.example("notice.doubt.safe", "/mended machine:"+quoted(n.Machine)+" problem:"+quoted(n.Name))
	waits := n.Fact
	if n.Seen != "" {
		waits = 0
	}
	n.seeTo(waits)
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

// personsText names people, which mentions them where a message says that it does.
func personsText(people []domain.PersonID) string {
	who := make([]string, len(people))
	for i, p := range people {
		who[i] = words.Person(string(p))
	}
	return strings.Join(who, ", ")
}

// aboutLock heads a notice about a lock with a message that mentions somebody: its owner
// or, where that has spoken, whoever asked.
func (n *notice) aboutLock(key string) {
	n.mentionPeople()
	n.data["By"] = words.Person(string(n.By))
	n.data["Until"] = words.Time(n.On, words.DateTime)
	n.data["Example"] = slash(lockName, "machine", n.Machine)
	n.headline(key)
}

// lockAsked asks the owner of a lock whether it is still on.
func (n *notice) lockAsked() {
	n.aboutLock("notice.lock.asked")
	n.add("notice.lock.answer", n.data)
	n.add("notice.lock.until", n.data)
}

// lockNoted tells what was done to make sure that nobody is in the machine, and asks for
// a second person.
func (n *notice) lockNoted() {
	n.aboutLock("notice.lock.noted")
	n.add("notice.lock.note", n.data)
	n.note()
	n.add("notice.lock.second", n.data)
	n.add("notice.lock.alone", n.data)
	n.add("notice.lock.stays", n.data)
}

// lockKept tells whoever asked that the lock stays on.
func (n *notice) lockKept() { n.aboutLock("notice.lock.kept") }

// lockOff tells its owner that the lock came off without them.
func (n *notice) lockOff() {
	n.aboutLock("notice.lock.off")
	n.add("notice.lock.before", nil)
}

// lockOver says of what was asked, or noted, that it is over.
func (n *notice) lockOver() {
	if n.Lifted {
		n.headline("notice.lock.over")
		return
	}
	n.headline("notice.lock.ended")
}

// note repeats what somebody noted, if anything.
func (n *notice) note() {
	if n.Note != "" {
		n.lines = append(n.lines, words.User(n.Note))
	}
}

// cause says what a problem was, if anybody knows.
func (n *notice) cause() {
	if n.Cause != "" {
		n.add("notice.cause", words.D{"Cause": n.Cause})
	}
}

// mended closes the message of a problem.
func (n *notice) mended() {
	n.headline("notice.mended")
	n.cause()
}

// mostTold is how many people one notice tells.
const mostTold = 20

// mentionPeople mentions those whom the notice tells.
func (n *notice) mentionPeople() {
	n.Message.People = n.NoticeArgs.People[:min(len(n.NoticeArgs.People), mostTold)]
	who := make([]string, len(n.Message.People))
	for i, p := range n.Message.People {
		who[i] = words.Person(string(p))
	}
	n.data["People"] = strings.Join(who, ", ")
}

// told tells those who reported a problem that it is mended.
func (n *notice) told() {
	n.mentionPeople()
	n.data["People"] = personsText(n.Message.People)
	n.headline("notice.told")
	n.cause()
	n.note()
}

// due says that a service or a check is due, and how it is done and recorded.
func (n *notice) due() {
	n.Mention = n.Call && n.posted
	switch {
	case n.Late && n.Check:
		n.headline("notice.check.late")
	case n.Late:
		n.headline("notice.late")
	case n.Check:
		n.headline("notice.check.due")
	default:
		n.headline("notice.due")
	}
	if n.Left.Valid() && n.Left.Sign() < 0 {
		n.add("notice.over", words.D{"Left": quantity.FormatDuration(n.Left.Abs())})
	}
	if n.Taken != "" {
		n.add("notice.taken", words.D{"By": words.Person(string(n.Taken))})
	}
	switch {
	case n.Hands:
		n.add("caution.isolate", n.data)
	case n.Running:
		n.add("caution.running", nil)
	}
	n.example("notice.how", "/how machine:"+quoted(n.Machine)+" what:"+quoted(n.Name))
	switch {
	case n.Measured:
		n.example("notice.done-with", "/reading machine:"+quoted(n.Machine)+" check:"+quoted(n.Name))
	case n.Check:
		n.example("notice.done-with", "/reading machine:"+quoted(n.Machine)+" check:"+quoted(n.Name)+" values:pass")
	default:
		n.example("notice.done-with", "/service machine:"+quoted(n.Machine)+" service:"+quoted(n.Name))
	}
}

// unproved says that nobody has said how a machine stands, and how that is said.
func (n *notice) unproved() {
	n.headline("notice.unproved")
	n.example("notice.unproved.do", slash("shop start", "machine", n.Machine))
}

// lastOfEach is a group with each service and check once, as it was told of last.
func lastOfEach(group []domain.Notice) (all []domain.Notice) {
	same := func(a, b domain.Notice) bool { return a.Args.ID == b.Args.ID && a.Args.Check == b.Args.Check }
	for i, n := range group {
		if !slices.ContainsFunc(group[i+1:], func(later domain.Notice) bool { return same(n, later) }) {
			all = append(all, n)
		}
	}
	return all
}

// several says what is due on a machine, and what became of that which was, in one
// message: a line for each, and how the first is done.
func (n *notice) several(group []domain.Notice) {
	// A line for each, and what must be known of those that are still to be done.
	var lines []string
	var due []domain.NoticeArgs
	hands := false
	for _, one := range group {
		a := one.Args
		lines = append(lines, n.dueLine(one.Topic, a))
		if one.Topic != domain.TopicDue {
			continue
		}
		due = append(due, a)
		n.Mention = n.Mention || a.Call && n.posted
		hands = hands || a.Hands
	}
	if len(due) == 0 {
		n.headline("notice.several.none")
		n.list(lines)
		return
	}
	n.Headline = n.say("notice.several", words.D{"Machine": n.data["Machine"], "N": len(due)})
	n.list(lines)
	// With what care, and where to read how.
	if hands {
		n.add("caution.isolate", n.data)
	}
	n.example("notice.several.how", "/how machine:"+quoted(n.Machine)+" what:"+quoted(due[0].Name))
}

// dueLine is one line of a message about several things that fell due: the thing, and
// what has become of it.
func (n *notice) dueLine(topic domain.Topic, a domain.NoticeArgs) string {
	data := words.D{"Name": words.User(a.Name), "No": a.Fact}
	key := "notice.several.due"
	switch {
	case topic == domain.TopicDone:
		return n.say("notice.several.done", data)
	case topic == domain.TopicNotDue:
		return n.say("notice.several.not-due", data)
	case topic == domain.TopicPutOff:
		data["Until"], data["By"], data["Why"] = words.Time(a.On, words.Date), words.Person(string(a.By)),
			words.User(a.Note)
		return n.say("notice.several.put-off", data)
	case a.Late:
		key = "notice.several.late"
	}
	line := n.say(key, data)
	if a.Left.Valid() && a.Left.Sign() < 0 {
		line += " " + n.say("notice.over", words.D{"Left": quantity.FormatDuration(a.Left.Abs())})
	}
	if a.Taken != "" {
		line += " " + n.say("notice.taken", words.D{"By": words.Person(string(a.Taken))})
	}
	if a.Running && !a.Hands {
		line += " " + n.say("caution.running", nil)
	}
	return line
}

// warned lists what the machine will be taken out of service for, soonest first, how
// the first is recorded, and which may be extended.
func (n *notice) warned() {
	if len(n.Warned) == 0 {
		n.headline("notice.warned.done")
		return
	}
	n.headline("notice.warned")
	for _, item := range n.Warned {
		n.list([]string{n.say("notice.warned.item", words.D{"Name": words.User(capital(item.Name)),
			"At": words.Time(item.TagsAt, words.DateTime)})})
	}
	first := n.Warned[0]
	if first.Item.Kind == domain.CheckItem {
		n.example("notice.done-with", slash(readingName, "machine", n.Machine, "check", first.Name)+" values:pass")
	} else {
		n.example("notice.done-with", slash(serviceName, "machine", n.Machine, "service", first.Name))
	}
	for _, item := range n.Warned {
		if item.Extends > 0 {
			n.add("notice.warned.extend", words.D{"Days": item.Extends,
				"Example": slash("extend", "machine", n.Machine, "check", item.Name) + ` days:1 why:"…"`})
			return
		}
	}
}

// loosening says what a change of a set-up that waits would loosen, why, and who puts it
// in force; or that it no longer waits.
func (n *notice) loosening() {
	n.data["By"] = words.Person(string(n.By))
	switch {
	case n.Lifted && n.Second != "":
		n.headline("notice.loosening.done")
		return
	case n.Lifted:
		n.headline("notice.loosening.over")
		return
	}
	n.callStewards("notice.loosening")
	n.loosens()
	n.lines = append(n.lines, n.forceLine(n.Machine, !n.On.IsZero(), n.On))
}

// loosened says that a change of a set-up which loosens a safety check is in force.
func (n *notice) loosened() {
	n.data["By"], n.data["Second"] = words.Person(string(n.By)), words.Person(string(n.Second))
	if n.By == n.Second {
		n.headline("notice.loosened.alone")
	} else {
		n.headline("notice.loosened")
	}
	n.loosens()
	if n.Why != "" {
		n.lines = append(n.lines, words.User(n.Why))
	}
}

// loosens lists what a set-up asks less of, and why.
func (n *notice) loosens() {
	n.list(n.loosenLines(n.Loosens))
	n.add("loosen.why", words.D{"Why": words.User(n.Note)})
	if n.Page != "" {
		n.add("loosen.page", words.D{"Page": words.User(n.Page)})
	}
	if n.Photo != nil {
		n.add("notice.photo", words.D{"Name": words.Link(n.Photo.URL, n.Photo.Name)})
	}
}

// putOff says until when a service is put off, by whom and why.
func (n *notice) putOff() {
	d := n.byWhom()
	d["Name"], d["Until"] = n.data["Name"], words.Time(n.On, words.Date)
	n.Headline = n.say("notice.put-off", d)
	n.lines = append(n.lines, words.User(n.Note))
}

// danger calls the stewards to a machine that is out of service already.
func (n *notice) danger() {
	n.data["Name"] = words.User(n.Name)
	n.callStewards("notice.danger")
	if n.Note != "" {
		n.lines = append(n.lines, words.User(n.Note))
	}
	n.add("notice.danger.do", nil)
	n.add("tag.isolates-nothing", nil)
}

// ranTagged says that a machine was used while it was out of service.
func (n *notice) ranTagged() {
	n.data["Used"] = quantity.FormatDuration(n.Used)
	key := "notice.ran"
	if n.Begins {
		key = "notice.ran.setting-up"
	}
	n.callStewards(key)
	n.add("tag.isolates-nothing", nil)
}

// measure says that a safety value is too near a stop limit to tell, and until when it is
// to be proved.
func (n *notice) measure() {
	n.callStewards("notice.measure")
	if !n.On.IsZero() {
		n.add("notice.measure.by", words.D{"At": words.Time(n.On, words.DateTime)})
	}
}

// outOfTrue says that a reading is outside its limits.
func (n *notice) outOfTrue() {
	key := "notice.adjust"
	if n.Unproved {
		key = "notice.adjust.unproved"
	}
	n.headline(key)
	n.example("notice.see", "/why machine:"+quoted(n.Machine)+" check:"+quoted(n.Name))
}

// digest lists what waits in the shop.
func (n *notice) digest() {
	n.data["N"] = len(n.Digest)
	n.Mention = n.posted && n.Pings
	n.headline("digest.headline")
	for _, i := range n.Digest {
		n.list([]string{n.digestLine(i)})
	}
}

// digestLine is one line of a digest.
func (w *wording) digestLine(item domain.DigestItem) string {
	data := words.D{"Machine": words.User(item.Machine), "Name": words.User(item.Name), "From": words.User(item.From),
		"No": item.Fact,
		"At": words.Time(item.At, words.DateTime), "On": words.Time(item.At, words.Date)}
	key := "digest." + string(item.Code)
	if item.Left.Valid() {
		data["Left"] = quantity.FormatDuration(item.Left.Abs())
	}
	switch {
	case item.Code == domain.DigestTagged && item.N > 0:
		key, data["N"] = "digest.tagged.days", item.N
	case item.Code == domain.DigestProblem, item.Code == domain.DigestVisit:
		data["N"] = item.N
	case item.Code == domain.DigestBuy:
		data["Left"] = item.N
	case item.Code == domain.DigestSoon && item.Left.Valid():
		key = "digest.soon.hours"
	case item.Code == domain.DigestLong && item.N > 1:
		key, data["N"] = "digest.long.others", item.N-1
	case item.Code != domain.DigestSoon && item.Left.Valid() && item.Left.Sign() < 0:
		key += ".over"
	}
	return w.say(key, data)
}
