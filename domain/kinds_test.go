package domain_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// samples are a body of every kind, with every field filled in.
func samples() []Body {
	value := quantity.New(1, 3, quantity.Inch)
	gauge := GaugeUsed{"g", true, metrology.Gauge{Resolution: value, Uncertainty: value, Error: value, Coverage: 2,
		Zeroed:        true,
		Repeatability: value, DoF: 9}, added, 365}
	return []Body{
		Hours{5400}, CounterRead{3600, true, false, 60},
		Reading{Check: "c", Values: []quantity.At{{Position: "left", Repeats: []quantity.Value{value}}}, Gauge: gauge,
			Typed: "x", Photo: &Photo{"1", "p.png", "https://x"},
			Mode: "high", Datum: &DatumRead{3, []quantity.Value{value}}, Unconfirmed: true},
		ReadingConfirmed{3}, Inspection{"c", true, "n", 3, []string{"c"}, &Photo{"1", "p.png", "https://x"}},
		Problem{"s", "n", "t", true, "fire", true, "e", []string{"c"}, &Photo{"1", "p.png", "https://x"}, 4},
		Mended{"s", "n", "t", "c", 5}, Found{"s", CauseItem.Of("c"), AnswerNo},
		ServiceDone{"s", []string{"a"}, "n", true, &Took{"oil", 2}},
		EventSeen{"e", []string{"a"}, "n", &Took{"belts", 1}},
		PutOff{"s", added, "w"}, Extended{"c", 7, "w"}, Taken{"s"}, Handover{"a", "l", "n", []string{"c"}},
		TakenOver{3},
		Move{"c", []string{"d"}, 3, []Turns{{"a", quantity.New(1, 8, quantity.Turn),
			quantity.New(1, 16, quantity.Turn), value}}},
		MoveAnswer{3, "c", TurnedOther},
		StockCounted{"Oil", 3, 1, true}, SetMoved{"A", Out, added, "n"},
		VisitsPlanned{[]Visit{{1, "m", added, 30, []Item{ServiceItem.Of("s")}, nil, []Item{CheckItem.Of("c")}, true}}},
		TagOut{"k", 3, Reason{Code: OutsideStop, Value: value, Limit: value}, "p", &Photo{"1", "p.png", "https://x"}},
		SeenTo{3, 4}, AwaySet{Away{"wren", "2026-03-02", "2026-03-09", "bo"}},
		UnderTest{OwnerAsked, "n", []TagAnswer{{3, OwnerUnreachable}}},
		TestEnded{"n", 3}, Mistake{3},
		LockAsked{3, added}, LockKept{3}, LockProcedure{3, "n", added}, LockOff{3, 4},
		TestRenewed{3},
		Release{OwnerAsked, "n", 3}, Ticked{"t", "n", "s", true}, Withdrawal{3, "n"},
		ShopSet{NewShop("s")},
		MachineAdded{"m", quantity.Metric, Setup{Kind: "k", Params: profile.Params{"knives": "4"}, Rev: 1}},
		SetupChanged{ServiceItem.Of("s"), Setup{Kind: "k", Values: map[string]CheckValues{"c": {Target: value}}}, 3,
			"n",
			true},
		LooseningAsked{CheckItem.Of("c"), Setup{Kind: "k", Rev: 2}, "w", "p", &Photo{"1", "p.png", "https://x"}, true,
			[]Loosening{{Item: CheckItem.Of("c"), Name: "n", Code: LooseStop, Was: metrology.Limits{Low: value},
				Now: metrology.Limits{High: value}, WasEvery: &profile.Rule{Days: 1},
				NowEvery: &profile.Rule{Months: 1},
				Unit:     quantity.Inch, Decimals: 2, Law: "l", Outer: "o"}}},
		MachineRetired{},
		GaugeSet{OwnGauge{GaugeUsed: GaugeUsed{Name: "g", Gauge: metrology.Gauge{Resolution: value, Error: value}},
			Kind: "dial", Of: quantity.Pressure}},
		StudyBegun{"g", 1, "c", "n", value, quantity.Inch, quantity.Length, 5, 3},
		StudyReading{3, 2, []quantity.Value{value, value}},
	}
}

// Every type of body in the package's files, and every constant of type Kind, has a
// row in the table, and none has two.
func TestEveryKindHasARow(t *testing.T) {
	files := token.NewFileSet()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	constants, methods := map[string]Kind{}, map[string]string{} // by constant's name; type's name to its constant's
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(files, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch decl := n.(type) {
			case *ast.ValueSpec:
				if kind, ok := decl.Type.(*ast.Ident); ok && kind.Name == "Kind" {
					text, err := strconv.Unquote(decl.Values[0].(*ast.BasicLit).Value)
					if err != nil {
						t.Fatal(err)
					}
					constants[decl.Names[0].Name] = Kind(text)
				}
			case *ast.FuncDecl:
				if decl.Name.Name == "FactKind" {
					result := decl.Body.List[0].(*ast.ReturnStmt).Results[0].(*ast.Ident)
					methods[decl.Recv.List[0].Type.(*ast.Ident).Name] = result.Name
				}
			}
			return true
		})
	}
	if len(methods) < 30 || len(methods) != len(constants) {
		t.Errorf("%d types of body, %d constants", len(methods), len(constants))
	}
	for typ, constant := range methods {
		kind := constants[constant]
		b, err := DecodeBody(kind, []byte("{}"))
		if err != nil {
			t.Errorf("%s: %v", typ, err)
		} else if got := reflect.TypeOf(b).Name(); got != typ || b.FactKind() != kind {
			t.Errorf("kind %q is read as a %s, want a %s", kind, got, typ)
		}
	}
	if got := len(Kinds()); got != len(methods) {
		t.Errorf("%d rows for %d types of body", got, len(methods))
	}
	for _, kind := range Kinds() {
		if !slices.ContainsFunc(samples(), func(b Body) bool { return b.FactKind() == kind }) {
			t.Errorf("no sample of kind %s", kind)
		}
	}
}

func TestBodiesAreReadBack(t *testing.T) {
	for _, body := range samples() {
		text, err := EncodeBody(body)
		if err != nil {
			t.Fatal(err)
		}
		got, err := DecodeBody(body.FactKind(), text)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(body, got); d != "" || reflect.TypeOf(body) != reflect.TypeOf(got) {
			t.Errorf("%T (-want +got):\n%s", body, d)
		}
	}
	if _, err := DecodeBody("sermon", []byte("{}")); err == nil {
		t.Error("an unknown kind is read")
	}
	if _, err := DecodeBody(KindHours, []byte("no")); err == nil || !strings.Contains(err.Error(), "hours") {
		t.Errorf("a broken body: %v", err)
	}
}

// What the table says of each kind. A fact keeps its subject for good, so none of
// these subjects may change.
func TestWhatTheTableSays(t *testing.T) {
	want := map[Kind]string{
		KindHours: "withdrawn use=5400", KindCounter: "withdrawn last use=60",
		KindReading: "withdrawn subject=c doubted", KindConfirmation: "withdrawn",
		KindInspection: "withdrawn subject=c note=n", KindProblem: "withdrawn subject=returned:s note=t",
		KindMended: "withdrawn last subject=s note=t", KindFound: "withdrawn subject=s",
		KindService: "withdrawn last subject=s note=n", KindEvent: "withdrawn last subject=e note=n",
		KindPutOff: "withdrawn last subject=s", KindExtended: "withdrawn last subject=c",
		KindTaken:    "withdrawn last subject=s",
		KindHandover: "withdrawn last", KindTakenOver: "withdrawn last",
		KindMove: "withdrawn subject=c", KindMoveAnswer: "withdrawn subject=c",
		KindStock: "withdrawn subject=oil", KindSet: "withdrawn last subject=a", KindVisits: "withdrawn",
		KindMistake: "", KindLockAsked: "withdrawn", KindLockKept: "", KindLockProcedure: "withdrawn note=n",
		KindLockOff: "withdrawn",
		KindTagOut:  "only reported", KindTest: "note=n", KindTestEnded: "note=n", KindTestRenewed: "last",
		KindRelease: "withdrawn last note=n", KindTicked: "withdrawn last subject=t",
		KindWithdrawal: "note=n", KindShop: "structural", KindMachine: "structural", KindSetup: "structural note=n",
		KindSeenTo: "only reported last", KindAway: "structural",
		KindLoosening: "withdrawn last note=w",
		KindRetired:   "structural", KindGauge: "", KindStudy: "", KindStudyReading: "withdrawn subject=3",
	}
	for _, body := range samples() {
		var says []string
		reported, own := Fact{By: "ada", Body: body}.Withdrawable(), Fact{Body: body}.Withdrawable()
		switch {
		case own && !reported:
			t.Errorf("%T: only Setscrew's own can be withdrawn", body)
		case own:
			says = append(says, "withdrawn")
		case reported:
			says = append(says, "only reported")
		}
		if reported != slices.Contains(KindsWithdrawn(), body.FactKind()) {
			t.Errorf("%T: withdrawable %t, but not so in the list", body, reported)
		}
		if Structural(body) {
			says = append(says, "structural")
		}
		if KeptLast(body) {
			says = append(says, "last")
		}
		if KeptLast(body) != slices.Contains(KindsKeptLast(), body.FactKind()) {
			t.Errorf("%T: its last is kept %t, but not so in the list", body, KeptLast(body))
		}
		if s := Subject(body); s != "" {
			says = append(says, "subject="+s)
		}
		if n := Note(body); n != "" {
			says = append(says, "note="+n)
		}
		if UseTold(body) != 0 {
			says = append(says, "use="+strconv.FormatInt(UseTold(body), 10))
		}
		if (UseTold(body) != 0) != slices.Contains(KindsOfUse(), body.FactKind()) {
			t.Errorf("%T: of use %d, but not so in the list", body, UseTold(body))
		}
		if !Believed(body) {
			says = append(says, "doubted")
		}
		if got := strings.Join(says, " "); got != want[body.FactKind()] {
			t.Errorf("%s: %q, want %q", body.FactKind(), got, want[body.FactKind()])
		}
	}
	if got := Subject(Problem{Symptom: "s"}); got != "" {
		t.Errorf("a problem that did not come back has subject %q", got)
	}
	if !Believed(Reading{}) {
		t.Error("a reading is doubted though nothing is unlikely about it")
	}
}

// A reading's gauge is stored as it always was: one text both ways.
func TestGaugeIsStoredAsEver(t *testing.T) {
	const text = `{"name":"dial","assumed":true,"resolution":"0.0000127 m","uncertainty":"0.0000254 m",` +
		`"error":"","coverage":2,` +
		`"zeroed":true,"repeatability":"0.00000635 m","dof":9,"calibrated":"2026-03-02T08:00:00Z","interval":365}`
	var got GaugeUsed
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	inch := func(d int64) quantity.Value { return quantity.New(1, d, quantity.Inch) }
	want := GaugeUsed{"dial", true,
		metrology.Gauge{Resolution: inch(2000), Uncertainty: inch(1000), Coverage: 2, Zeroed: true,
			Repeatability: inch(4000), DoF: 9}, added, 365}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("read (-want +got):\n%s", d)
	}
	if back, err := json.Marshal(want); err != nil || string(back) != text {
		t.Errorf("written %s, %v", back, err)
	}
}
