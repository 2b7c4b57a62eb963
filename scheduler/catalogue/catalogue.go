package catalogue

// Catalogue is all that is known, by id. Nobody changes it after Load.
type Catalogue struct {
	Pests         map[PestID]Pest
	Materials     map[MaterialID]Material
	Species       map[SpeciesID]Species
	Jurisdictions map[JurisdictionCode]Jurisdiction
	Sources       map[string]Source
	// Version is the hash of the data files; an application record names it.
	Version string
}
