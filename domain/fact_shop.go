package domain

import (
	"setscrew/domain/quantity"
)

// ShopSet is the shop's settings after a change.
type ShopSet struct {
	Shop Shop `json:"shop"`
}

// FactKind is KindShop.
func (ShopSet) FactKind() Kind { return KindShop }

// MachineAdded is a new machine, set up from a profile.
type MachineAdded struct {
	Name  string          `json:"name"`
	Units quantity.System `json:"units,omitempty"`
	Setup Setup           `json:"setup"`
}

// FactKind is KindMachine.
func (MachineAdded) FactKind() Kind { return KindMachine }

// SetupChanged is a machine's set-up after a steward confirmed or changed Item.
type SetupChanged struct {
	Item  Item  `json:"item"`
	Setup Setup `json:"setup"`
}

// FactKind is KindSetup.
func (SetupChanged) FactKind() Kind { return KindSetup }

// MachineRetired takes a machine off the books; its facts stay.
type MachineRetired struct{}

// FactKind is KindRetired.
func (MachineRetired) FactKind() Kind { return KindRetired }

// GaugeSet adds one of the shop's own gauges, or changes the one of that name.
type GaugeSet struct {
	Gauge OwnGauge `json:"gauge"`
}

// FactKind is KindGauge.
func (GaugeSet) FactKind() Kind { return KindGauge }
