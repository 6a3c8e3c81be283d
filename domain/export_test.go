package domain

import (
	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
)

// Model is the model behind it, for those who hold it against draws.
func (d *Diagnosis) Model() diagnosis.Model { return d.model }

// Compile loads a profile's text with a machine's parameters and puts the
// shop's own values in place of the profile's.
func Compile(text []byte, setup Setup) (*profile.Profile, error) {
	p, err := profile.Load(setup.Kind+".yaml", text, setup.Params)
	if err != nil {
		return nil, err
	}
	return setup.Own(p)
}

// PersonKeys are the keys under which people stand in what is stored.
var PersonKeys = personKeys
