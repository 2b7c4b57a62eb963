package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
)

// PlaceKind writes a kind of place; unspecified where it is unset.
func PlaceKind(kind catalogue.PlaceKind) vernationv1.PlaceKind { return placeKinds.enum(kind) }

// PlaceKindFrom reads a kind of place; unset where it is unspecified.
func PlaceKindFrom(kind vernationv1.PlaceKind) catalogue.PlaceKind { return placeKinds.word(kind) }
