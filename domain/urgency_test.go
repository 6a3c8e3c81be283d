package domain_test

import (
	"testing"

	. "setscrew/domain"
)

// What must not be used goes before calls, those before releases, those before the
// rest; danger is told in quiet hours too.
func TestNoticeUrgency(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		notice Notice
		want   Urgency
		urgent bool // posted in quiet hours
	}{
		{"a tag-out", Notice{Op: Post, Topic: TopicTagOut}, UrgentDanger, true},
		{"another tag", Notice{Op: Edit, Topic: TopicTagOut}, UrgentDanger, true},
		{"its tags lifted", Notice{Op: Edit, Topic: TopicTagOut, Args: NoticeArgs{Lifted: true}}, UrgentRelease, true},
		{"back", Notice{Op: Post, Topic: TopicBack}, UrgentRelease, true},
		{"a test", Notice{Op: Post, Topic: TopicTest}, UrgentCall, true},
		{"a test's end", Notice{Op: Post, Topic: TopicTestEnded}, UrgentRelease, true},
		{"perhaps dangerous", Notice{Op: Post, Topic: TopicProblem, Args: NoticeArgs{Doubt: true}}, UrgentDanger, true},
		{"unanswered", Notice{Op: Post, Topic: TopicDoubt, Args: NoticeArgs{Call: true}}, UrgentDanger, true},
		{"that nobody sees to it", Notice{Op: Post, Topic: TopicUnseen}, UrgentDanger, true},
		{"that somebody does", Notice{Op: Edit, Topic: TopicUnseen}, UrgentRelease, true},
		{"a photo", Notice{Op: Post, Topic: TopicPhoto}, Routine, false},
		{"a photo of a danger", Notice{Op: Post, Topic: TopicPhoto, Args: NoticeArgs{Now: true}}, Routine, true},
		{"told from memory", Notice{Op: Post, Topic: TopicUnbooked}, UrgentDanger, true},
		{"answered", Notice{Op: Edit, Topic: TopicDoubt, Args: NoticeArgs{Lifted: true}}, Routine, false},
		{"a problem", Notice{Op: Post, Topic: TopicProblem}, Routine, false},
		{"a problem's edit", Notice{Op: Edit, Topic: TopicProblem}, Routine, false},
		{"due, called for", Notice{Op: Post, Topic: TopicDue, Args: NoticeArgs{Call: true}}, UrgentCall, false},
		{"its edit", Notice{Op: Edit, Topic: TopicDue, Args: NoticeArgs{Call: true}}, Routine, false},
		{"due", Notice{Op: Post, Topic: TopicDue}, Routine, false},
		{"run while tagged", Notice{Op: Post, Topic: TopicRanTagged}, UrgentCall, true},
		{"unlikely", Notice{Op: Post, Topic: TopicUnlikely}, UrgentCall, false},
		{"the owner of a lock asked", Notice{Op: Post, Topic: TopicLockAsked}, UrgentCall, true},
		{"a second person asked for", Notice{Op: Post, Topic: TopicLockNoted}, UrgentCall, true},
		{"a lock that stays", Notice{Op: Post, Topic: TopicLockKept}, UrgentCall, true},
		{"a lock off without its owner", Notice{Op: Post, Topic: TopicLockOff}, UrgentCall, true},
		{"the end of what was asked", Notice{Op: Edit, Topic: TopicLockOver}, Routine, false},
		{"the digest", Notice{Op: Post, Topic: TopicDigest}, Routine, false},
	} {
		if got := test.notice.Urgency(); got != test.want || test.notice.Urgent() != test.urgent {
			t.Errorf("%s: urgency %d, in quiet hours %v; want %d, %v", test.name, got, test.notice.Urgent(),
				test.want, test.urgent)
		}
	}
}
