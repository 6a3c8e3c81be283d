package domain

import (
	"errors"
	"testing"
)

// What stops a machine, or may have to, is told from what does not, with what it says.
func TestStopsMachine(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		body  Body
		stops bool
		says  string
	}{
		{TagOut{Reason: Reason{Code: SaidBySomebody, Text: "loose"}}, true, "loose"},
		{Problem{Name: "smoke", Danger: true}, true, "smoke"},
		{Problem{Name: "wobbles", Doubt: true}, true, "wobbles"},
		{Problem{Name: "snipe", Note: "short boards"}, false, "snipe"},
		{Hours{Seconds: 60}, false, ""},
		{Release{}, false, ""},
	} {
		if got, says := StopsMachine(test.body), Described(test.body); got != test.stops || says != test.says {
			t.Errorf("%+v: stops %v, says %q; want %v, %q", test.body, got, says, test.stops, test.says)
		}
	}
}

// Books that cannot be used say the store's own error, and keep it.
func TestBooksError(t *testing.T) {
	t.Parallel()
	own := errors.New("disk I/O error")
	err := error(&BooksError{Trouble: BooksUnreachable, Err: own})
	if err.Error() != own.Error() || !errors.Is(err, own) {
		t.Errorf("%v", err)
	}
}
