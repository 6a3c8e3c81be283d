package commands

import "setscrew/commands/words"

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
