package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"strings"
)

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

// headline heads the notice with a message.
func (n *notice) headline(key string) { n.Headline = n.say(key, n.data) }

// add puts a message below the headline.
func (n *notice) add(key string, data words.D) { n.lines = append(n.lines, n.say(key, data)) }

// example puts a message with a command below the headline.
func (n *notice) example(key, command string) { n.add(key, words.D{"Example": command}) }

// callStewards heads the notice with a message that calls the stewards.
func (n *notice) callStewards(key string) {
	n.Mention = true
	n.headline(key)
}

// list puts lines below the headline, each behind a dash.
func (n *notice) list(lines []string) {
	for _, line := range lines {
		n.lines = append(n.lines, "- "+line)
	}
}

// note repeats what somebody noted, if anything.
func (n *notice) note() {
	if n.Note != "" {
		n.lines = append(n.lines, words.User(n.Note))
	}
}

// picture names the picture that comes with the message, if there is one.
func (n *notice) picture() {
	if n.Photo != nil {
		n.add("notice.photo", words.D{"Name": words.Link(n.Photo.URL, n.Photo.Name)})
	}
}

// mostTold is how many people one notice tells.
const mostTold = 20

// mentionPeople mentions those whom the notice tells.
func (n *notice) mentionPeople() {
	n.Message.People = n.NoticeArgs.People[:min(len(n.NoticeArgs.People), mostTold)]
	n.data["People"] = personsText(n.Message.People)
}

// personsText names people, which mentions them where a message says that it does.
func personsText(people []domain.PersonID) string {
	who := make([]string, len(people))
	for i, p := range people {
		who[i] = words.Person(string(p))
	}
	return strings.Join(who, ", ")
}
