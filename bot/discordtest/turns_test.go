package discordtest

import "testing"

// Requests are listed in the order in which they took effect, not in that in which their
// answers were ready.
func TestRequestsInTheirTurn(t *testing.T) {
	t.Parallel()
	server := New()
	defer server.Close()
	for _, turn := range []int{2, 3, 1} {
		server.record(turn, Request{Path: string(rune('0' + turn))})
	}
	got := ""
	for _, request := range server.Requests() {
		got += request.Path
	}
	if got != "123" {
		t.Errorf("in the order %s", got)
	}
}
