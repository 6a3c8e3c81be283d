package commands

import (
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Render puts a notice into words, as they are to stand in the channel.
func (d *Desk) Render(shop domain.Shop, owed domain.Notice) Message {
	args, render := owed.Args, noticeTopics[owed.Topic]
	group := lastOfEach(owed.Group)
	switch len(group) {
	case 0:
	case 1:
		args, render = group[0].Args, noticeTopics[group[0].Topic]
	default:
		render = func(n *notice) { n.several(group) }
	}
	inWords := &notice{wording: wording{speaker: d.cat.In(), shop: shop, now: args.At}, NoticeArgs: args,
		posted: owed.Op == domain.Post, machine: owed.Machine,
		data: words.D{"Machine": words.User(args.Machine), "Name": words.User(args.Name), "No": args.Fact,
			"Typed": words.User(args.Typed)}}
	if render != nil {
		render(inWords)
	}
	m := inWords.Message
	m.Text = strings.Join(append([]string{m.Headline}, inWords.lines...), "\n")
	return m
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
	domain.TopicUnlikely:   (*notice).unlikely,
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

// tagOut keeps up a machine's time out of service, until its tags are lifted.
func (n *notice) tagOut() {
	tags := n.standingLines(n.Tags)
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
		n.example("notice.doubt.stop", slash(tagoutName, "machine", n.Machine, "reason", n.Name))
	}
	if n.Back != 0 {
		n.add("notice.problem-back", words.D{"No": n.Back})
	}
	n.note()
	n.picture()
	if n.Causes {
		n.example("notice.causes", slash("cause", "machine", n.Machine, "problem", n.Name))
	}
	n.example("notice.mended-with", slash(mendedName, "machine", n.Machine, "problem", n.Name))
}

// photo shows what a report came with.
func (n *notice) photo() {
	n.headline("notice.photo.of")
	n.picture()
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

// told tells those who reported a problem that it is mended.
func (n *notice) told() {
	n.mentionPeople()
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
	n.example("notice.how", slash(howName, "machine", n.Machine, "what", n.Name))
	switch {
	case n.Measured:
		n.example("notice.done-with", slash(readingName, "machine", n.Machine, "check", n.Name))
	case n.Check:
		n.example("notice.done-with", slash(readingName, "machine", n.Machine, "check", n.Name, "values", "pass"))
	default:
		n.example("notice.done-with", slash(serviceName, "machine", n.Machine, "service", n.Name))
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
		args := one.Args
		lines = append(lines, n.dueLine(one.Topic, args))
		if one.Topic != domain.TopicDue {
			continue
		}
		due = append(due, args)
		n.Mention = n.Mention || args.Call && n.posted
		hands = hands || args.Hands
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
	n.example("notice.several.how", slash(howName, "machine", n.Machine, "what", due[0].Name))
}

// dueLine is one line of a message about several things that fell due: the thing, and
// what has become of it.
func (n *notice) dueLine(topic domain.Topic, args domain.NoticeArgs) string {
	data := words.D{"Name": words.User(args.Name), "No": args.Fact}
	key := "notice.several.due"
	switch {
	case topic == domain.TopicDone:
		return n.say("notice.several.done", data)
	case topic == domain.TopicNotDue:
		return n.say("notice.several.not-due", data)
	case topic == domain.TopicPutOff:
		data["Until"], data["By"], data["Why"] = words.Time(args.On, words.Date), words.Person(string(args.By)),
			words.User(args.Note)
		return n.say("notice.several.put-off", data)
	case args.Late:
		key = "notice.several.late"
	}
	line := n.say(key, data)
	if args.Left.Valid() && args.Left.Sign() < 0 {
		line += " " + n.say("notice.over", words.D{"Left": quantity.FormatDuration(args.Left.Abs())})
	}
	if args.Taken != "" {
		line += " " + n.say("notice.taken", words.D{"By": words.Person(string(args.Taken))})
	}
	if args.Running && !args.Hands {
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
		n.example("notice.done-with", slash(readingName, "machine", n.Machine, "check", first.Name, "values", "pass"))
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

// putOff says until when a service is put off, by whom and why.
func (n *notice) putOff() {
	d := n.byWhom()
	d["Name"], d["Until"] = n.data["Name"], words.Time(n.On, words.Date)
	n.Headline = n.say("notice.put-off", d)
	n.lines = append(n.lines, words.User(n.Note))
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
	n.example("notice.see", slash("why", "machine", n.Machine, "check", n.Name))
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
