package commands

import (
	"fmt"

	"setscrew/commands/plot"
)

// Draw makes a picture's PNG. It is called once the report is safely stored.
func Draw(p Picture) ([]byte, error) {
	switch data := p.Data.(type) {
	case *plot.Limits:
		return data.PNG()
	case *plot.Moves:
		return data.PNG()
	}
	return nil, fmt.Errorf("commands: no picture for %T", p.Data)
}
