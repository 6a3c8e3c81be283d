package danger

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

func TestTune(t *testing.T) {
	for _, f := range strings.Fields(os.Getenv("TUNE")) {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		var n, stop, ask, hn, hs, ha, ln, la, ls int
		for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n") {
			p := strings.SplitN(line, "\t", 3)
			h := Hear(p[2])
			bad := false
			switch p[1] {
			case "certain":
				n++
				if h.Certainty == Sure {
					stop++
				} else {
					bad = true
				}
				if h.Certainty > None {
					ask++
				}
			case "likely":
				ln++
				if h.Certainty > None {
					la++
				} else {
					bad = true
				}
				if h.Certainty == Sure {
					ls++
				}
			default:
				hn++
				if h.Certainty == Sure {
					hs++
				}
				if h.Certainty == Likely {
					ha++
				}
				bad = h.Certainty > None
			}
			if bad && os.Getenv("SHOW") != "" {
				fmt.Printf("%-8s %-10s -> %d %-10s %v | %s\n", p[1], p[0], h.Certainty, h.Kind, h.Words, p[2])
			}
		}
		fmt.Printf("%s: certain %d stop %.1f%% heard %.1f%%; likely %d heard %.0f%% stop %.0f%%; harmless %d stop %.1f%% ask %.1f%%\n", f, n, 100*float64(stop)/float64(n), 100*float64(ask)/float64(n), ln, 100*float64(la)/float64(ln), 100*float64(ls)/float64(ln), hn, 100*float64(hs)/float64(hn), 100*float64(ha)/float64(hn))
	}
}
