package domain

// KindTagOut is the kind of a TagOut.
const KindTagOut Kind = "tag-out"

// TagOut takes a machine out of service.
type TagOut struct {
	Cause   string `json:"cause,omitempty"`   // TagCause.Key for one that Assess demanded, "" when a person hung it
	Because FactNo `json:"because,omitempty"` // the report it rests on, or 0
	Reason  Reason `json:"reason"`
	Paper   string `json:"paper,omitempty"` // the paper tag's number, if there is one
	Photo   *Photo `json:"photo,omitempty"`
}

// FactKind is KindTagOut.
func (TagOut) FactKind() Kind { return KindTagOut }

// KindTest is the kind of an UnderTest.
const KindTest Kind = "test"

// UnderTest is a tagged-out machine running for a check by the steward who
// reports it. The return-to-service list was confirmed before.
type UnderTest struct {
	// Owner is what an earlier version noted once for all the tags that others hung.
	Owner OwnerContact `json:"owner,omitempty"`
	Note  string       `json:"note,omitempty"` // what was found and done
	Tags  []TagAnswer  `json:"tags,omitempty"` // each tag that stood, answered for by itself
}

// TagAnswer is a steward's word that what a tag was hung for is seen to.
type TagAnswer struct {
	Tag FactNo `json:"tag"`
	// Owner is how the person was dealt with who hung it, "" where that is the steward,
	// Setscrew, or somebody who took their lock off it.
	Owner OwnerContact `json:"owner,omitempty"`
}

// FactKind is KindTest.
func (UnderTest) FactKind() Kind { return KindTest }

// KindTestEnded is the kind of a TestEnded.
const KindTestEnded Kind = "test-ended"

// TestEnded ends a test; the machine stays tagged out.
type TestEnded struct {
	Note string `json:"note,omitempty"`
	Test FactNo `json:"test,omitempty"` // the test that it ends; 0 for whichever runs
}

// FactKind is KindTestEnded.
func (TestEnded) FactKind() Kind { return KindTestEnded }

// KindTestRenewed is the kind of a TestRenewed.
const KindTestRenewed Kind = "test-renewed"

// TestRenewed says that a test goes on: its time begins again.
type TestRenewed struct {
	Test FactNo `json:"test"`
}

// FactKind is KindTestRenewed.
func (TestRenewed) FactKind() Kind { return KindTestRenewed }

// KindRelease is the kind of a Release.
const KindRelease Kind = "release"

// Release lifts every standing tag, ends the test and closes the dangers
// reported.
type Release struct {
	Owner OwnerContact `json:"owner,omitempty"`
	Note  string       `json:"note,omitempty"` // what was found and done
	Test  FactNo       `json:"test,omitempty"` // the test after which it is released; 0 for whichever runs
}

// FactKind is KindRelease.
func (Release) FactKind() Kind { return KindRelease }

// OwnerContact says how the person whose tag is lifted by another was dealt with.
type OwnerContact string

// What a steward can say of a tag's owner.
const (
	OwnerAsked       OwnerContact = "asked"
	OwnerUnreachable OwnerContact = "unreachable"
)

// KindWithdrawal is the kind of a Withdrawal.
const KindWithdrawal Kind = "withdrawal"

// Withdrawal voids a fact.
type Withdrawal struct {
	Of   FactNo `json:"of"`
	Note string `json:"note,omitempty"` // why; asked for where it voids somebody else's report of danger
}

// FactKind is KindWithdrawal.
func (Withdrawal) FactKind() Kind { return KindWithdrawal }
