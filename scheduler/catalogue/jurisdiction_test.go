package catalogue_test

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
)

// indoors are the kinds of place whose plants stand in rooms.
func indoors() []catalogue.PlaceKind {
	return slices.DeleteFunc(slices.Clone(catalogue.PlaceKinds[:]), func(p catalogue.PlaceKind) bool { return p == catalogue.Outdoors })
}

// Lead times of notices as the law of each place gives them.
func TestNoticeLead_PublishedRows(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code   catalogue.JurisdictionCode
		hours  time.Duration
		source string
	}{
		{"US-PA", 72, "Pennsylvania Act 36 of 2002"},
		{"US-AK", 24, "18 AAC 90.625(b): at least 24 hours before"},
		{"US-AZ", 72, "A.R.S. 32-2307: seventy-two hours; 15-152 asks for forty-eight, the stricter holds"},
		{"US-IL", 96, "225 ILCS 235/10.3: 2 business days, four days over a weekend"},
		{"US-CA", 72, "California Education Code § 17612(a)(1): at least 72 hours before"},
		{"US-CT", 24, "Conn. Gen. Stat. § 10-231c: no later than twenty-four hours prior"},
		{"US-MD", 24, "COMAR 15.05.02.05 A(1): at least 24 hours before"},
		{"US-NJ", 72, "N.J.A.C. 7:30-13.6(b): at least 72 hours before"},
		{"US-NY", 48, "New York Education Law § 409-h: forty-eight hours"},
		{"US-WA", 48, "RCW 17.21.415(3): at least forty-eight hours before"},
	} {
		lead, known, text := catalogue.Shipped().NoticeLead(tc.code, catalogue.School)
		if lead != tc.hours*time.Hour || !known || text == "" {
			t.Errorf("school in %s: %v, %v, %q, want %d h (%s)", tc.code, lead, known, text, tc.hours, tc.source)
		}
		if lead, known, _ := catalogue.Shipped().NoticeLead(tc.code, catalogue.Office); known {
			t.Errorf("office in %s: known to be %v, though no such rule was read", tc.code, lead)
		}
	}
	for _, code := range []catalogue.JurisdictionCode{"US", "US-GA", "US-KY", "US-MI", "GB"} {
		if lead, known, _ := catalogue.Shipped().NoticeLead(code, catalogue.School); known {
			t.Errorf("school in %s: known to be %v, though no lead time was read", code, lead)
		}
	}
}

// For how many years records are kept.
func TestKeepYears_PublishedRows(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code     catalogue.JurisdictionCode
		years    float64
		standing catalogue.Standing
		source   string
	}{
		{"US", 2, catalogue.Published, "40 CFR 171.303(b)(7): two years"},
		{"US-PA", 3, catalogue.Published, "7 Pa. Code § 128.35: three years"},
		{"US-AK", 2, catalogue.Published, "18 AAC 90.420: at least two years"},
		{"US-CT", 5, catalogue.Published, "Conn. Gen. Stat. § 22a-66g: not less than five years"},
		{"US-KY", 3, catalogue.Published, "KRS 217B.150: three years"},
		{"US-MD", 2, catalogue.Secondary, "COMAR 15.05.01.15, as repeated: a period of two years"},
		{"US-NY", 3, catalogue.Published, "Environmental Conservation Law § 33-1205: not less than three years"},
		{"US-WA", 7, catalogue.Published, "RCW 17.21.100: seven years"},
		{"GB", 3, catalogue.FromMemory, "Regulation (EC) No 1107/2009, Article 67"},
	} {
		years, known := catalogue.Shipped().KeepYears(tc.code)
		if years.Value != tc.years || years.Standing != tc.standing || !known {
			t.Errorf("%s keeps records %v years (%s, %v), want %v, %s (%s)", tc.code, years.Value, years.Standing, known, tc.years, tc.standing, tc.source)
		}
	}
	if years, known := catalogue.Shipped().KeepYears("XX"); known || years.Value != 0 {
		t.Errorf("an unknown jurisdiction keeps records %v years", years.Value)
	}
	for _, j := range catalogue.Shipped().Jurisdictions {
		years, _ := catalogue.Shipped().KeepYears(j.Code)
		if j.Within == "US" && years.Value < 2 {
			t.Errorf("%s keeps records %v years, shorter than the federal two", j.Code, years.Value)
		}
	}
}

// What a record must hold, element by element where the text was read.
func TestRecordRule_PublishedElements(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code     catalogue.JurisdictionCode
		elements []string
		source   string
	}{
		{"US", []string{"customer name and address", "size of area treated", "date and time of application", "registration number", "total amount applied"}, "40 CFR 171.303(b)(7)"},
		{"US-PA", []string{"hour completed where a re-entry time applies", "dosage or rate", "site address"}, "7 Pa. Code § 128.35"},
		{"US-AK", []string{"dilution", "target pest", "instructions given to technicians under supervision"}, "18 AAC 90.420 (8), (10), (13)"},
		{"US-CA", []string{"name of the operator of the property", "date and time of application"}, "3 CCR 6624(b)"},
		{"US-CT", []string{"name and certificate number of supervisor and operator", "target pest"}, "Conn. Gen. Stat. § 22a-66g(a)(1)"},
		{"US-GA", []string{"type of equipment", "pesticides disposed of, and how"}, "Ga. Comp. R. & Regs. 40-21-5-.02 (h), (k)"},
		{"US-NJ", []string{"re-entry date and time", "amount of concentrate and of diluent"}, "N.J.A.C. 7:30-7.3(a) 1 and 4"},
		{"US-NY", []string{"registration number", "method of application", "target pest", "dosage or rate"}, "Environmental Conservation Law § 33-1205"},
		{"GB", []string{"product name", "time of application", "dose", "area and place of application", "crop or plants treated"}, "Regulation (EC) No 1107/2009, Article 67(1)"},
	} {
		rule := catalogue.Shipped().RecordRule(tc.code)
		for _, element := range tc.elements {
			if !slices.Contains(rule.Elements, element) {
				t.Errorf("%s asks for no %q (%s): %q", tc.code, element, tc.source, rule.Elements)
			}
		}
	}
}

// Which licence covers plants indoors.
func TestCategoriesCovering_PublishedRows(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code   catalogue.JurisdictionCode
		place  catalogue.PlaceKind
		want   []string
		source string
	}{
		{"US-AK", catalogue.Outdoors, []string{"4"}, "Alaska: 4 turf and ornamental, outdoor pests"},
		{"US-AK", catalogue.Office, nil, "Alaska: turf and ornamental does not cover plants indoors"},
		{"US-CA", catalogue.Office, []string{"Q", "B"}, "California: maintenance gardener and landscape maintenance"},
		{"US-CA", catalogue.School, []string{"B"}, "California: Q is for the care of gardens"},
		{"US-CT", catalogue.Lodging, []string{"interior-plantscape"}, "Connecticut: all professional interior plantscape specialists are certified"},
		{"US-KY", catalogue.Office, []string{"3", "19"}, "University of Kentucky, both lists"},
		{"US-MD", catalogue.Office, []string{"3B"}, "Maryland: ornamental plants, interior"},
		{"US-MD", catalogue.Outdoors, []string{"3A"}, "Maryland: ornamental plants and shade trees, exterior"},
		{"US-NJ", catalogue.HealthCare, []string{"3C"}, "N.J.A.C. 7:30-6.2: interior plantscaping"},
		{"US-NY", catalogue.Retail, []string{"3C"}, "New York: interior plant maintenance"},
		{"US-PA", catalogue.Office, []string{"22"}, "Pennsylvania: interior plantscape"},
		{"US-GA", catalogue.Office, nil, "not known"},
		{"XX", catalogue.Office, nil, "not known"},
	} {
		var got []string
		for _, category := range catalogue.Shipped().CategoriesCovering(tc.code, tc.place) {
			got = append(got, category.ID)
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s in %s: %q, want %q (%s)", tc.place, tc.code, got, tc.want, tc.source)
		}
	}
}

func TestSupervision_SaysWhoMayApplyHowNear(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code   catalogue.JurisdictionCode
		who    string
		kind   catalogue.SupervisionKind
		source string
	}{
		{"US-PA", "registered technician", catalogue.WithinReach, "7 Pa. Code § 128.2: available if and when needed"},
		{"US-KY", "registered trainee", catalogue.OnSite, "302 KAR 28:050: direct on-the-job supervision"},
		{"US-MD", "employee not yet trained", catalogue.OnSite, "Maryland Code, Agriculture, § 5-209.1(a)(3): physically present"},
		{"US-MD", "registered employee", catalogue.Supervised, "Maryland Code, Agriculture, § 5-209(b)"},
		{"US-MD", "whoever applies a restricted use product for others", catalogue.OwnLicence, "Maryland Code, Agriculture, § 5-209(c)"},
		{"US-NJ", "commercial pesticide operator", catalogue.Supervised, "N.J.A.C. 7:30-6.1(a)3"},
		{"GB", "somebody in training for the certificate", catalogue.OnlyTraining, "guidance of the Health and Safety Executive, repeated"},
	} {
		rules := catalogue.Shipped().SupervisionRules(tc.code)
		i := slices.IndexFunc(rules, func(r catalogue.SupervisionRule) bool { return r.Who == tc.who })
		if i < 0 || rules[i].Kind != tc.kind {
			t.Errorf("%s, %s: %+v, want %s (%s)", tc.code, tc.who, rules, tc.kind, tc.source)
		}
	}
	for _, j := range catalogue.Shipped().Jurisdictions {
		_, known := catalogue.Shipped().Supervision(j.Code)
		allowed := slices.ContainsFunc(j.SupervisionRules, func(r catalogue.SupervisionRule) bool { return r.Kind.AllowsWork() })
		if known != allowed {
			t.Errorf("%s: supervision is known %v, its rules allow work %v", j.Code, known, allowed)
		}
	}
	for kind, want := range map[catalogue.SupervisionKind]bool{
		catalogue.OnSite: true, catalogue.Supervised: true, catalogue.OnlyTraining: true, catalogue.WithinReach: false, catalogue.OwnLicence: false, "": true,
	} {
		if kind.AsksPresence() != want {
			t.Errorf("%q asks for presence: %v, want %v", kind, !want, want)
		}
	}
}

// Signs as their rules describe them; an inch is 25.4 mm.
func TestPostings_PublishedRows(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code     catalogue.JurisdictionCode
		place    catalogue.PlaceKind
		words    string
		letterMM float64
		unless   string
		source   string
	}{
		{"US-KY", catalogue.Office, "PESTICIDES HAVE BEEN APPLIED – PLEASE STAY OUT OF TREATED AREA", 3.0 / 8 * 25.4, "off the site", "302 KAR 28:030 section 1(1)"},
		{"US-NJ", catalogue.School, "Pesticide Treated Area", 0.5 * 25.4, "", "N.J.A.C. 7:30-9.13(e)2"},
		{"US-CT", catalogue.Outdoors, "PESTICIDE APPLICATION", 36.0 / 72 * 25.4, "", "Conn. Gen. Stat. § 22a-66a(c): 36 point"},
		{"US-WA", catalogue.Outdoors, "THIS LANDSCAPE HAS BEEN TREATED BY", 0, "", "RCW 17.21.410(3)"},
		{"US-AK", catalogue.School, "", 0, "", "18 AAC 90.625: 8½ x 11 inches, before starting"},
		{"US-GA", catalogue.Office, "", 0, "single-family", "Ga. Comp. R. & Regs. 40-21-9-.02"},
		{"US-MI", catalogue.HealthCare, "", 1.0 / 8 * 25.4, "ready-to-use", "Mich. Admin. Code R 285.637.11"},
	} {
		signs := catalogue.Shipped().Postings(tc.code, tc.place)
		if len(signs) != 1 {
			t.Errorf("%s in %s: %d signs, want one (%s)", tc.place, tc.code, len(signs), tc.source)
			continue
		}
		letter := 0.0
		if signs[0].LetterHeight != nil {
			letter = signs[0].LetterHeight.Value
		}
		if signs[0].Words != tc.words || letter != tc.letterMM || !strings.Contains(signs[0].Unless, tc.unless) || (tc.unless == "") != (signs[0].Unless == "") {
			t.Errorf("%s in %s: %+v, want %q in letters of %v mm unless %q (%s)", tc.place, tc.code, signs[0], tc.words, tc.letterMM, tc.unless, tc.source)
		}
	}
	if signs := catalogue.Shipped().Postings("GB", catalogue.Office); len(signs) != 0 {
		t.Errorf("signs in Great Britain were not read: %+v", signs)
	}
}

func TestPostingTimes_AreTheStrictestKnown(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code          catalogue.JurisdictionCode
		place         catalogue.PlaceKind
		before, after time.Duration
		asked         bool
		source        string
	}{
		{"US-PA", catalogue.School, 72, 48, true, "Pennsylvania Act 36 of 2002: 72 hours before, two days after"},
		{"US-CA", catalogue.School, 24, 72, true, "Healthy Schools Act: 24 hours before until 72 hours after"},
		{"US-MD", catalogue.School, 0, 48, true, "COMAR 15.05.02.08: 48 hours after"},
		{"US-WA", catalogue.School, 0, 24, true, "RCW 17.21.415: at least 24 hours after"},
		{"US-NJ", catalogue.School, 0, 72, true, "N.J.A.C. 7:30-9.13(e)1: may be removed after 72 hours"},
		{"US-MI", catalogue.Office, 0, 48, true, "R 285.637.11: not less than 48 hours"},
		{"US-KY", catalogue.Office, 0, 0, true, "302 KAR 28:030 names no time"},
		{"US-NY", catalogue.Office, 0, 0, false, "not known"},
	} {
		before, after, asked := catalogue.Shipped().PostingTimes(tc.code, tc.place)
		if before != tc.before*time.Hour || after != tc.after*time.Hour || asked != tc.asked {
			t.Errorf("%s in %s: %v, %v, %v, want %d h, %d h, %v (%s)", tc.place, tc.code, before, after, asked, tc.before, tc.after, tc.asked, tc.source)
		}
	}
	hours := func(h float64) *catalogue.Figure {
		return &catalogue.Figure{Value: h, Unit: catalogue.UnitHours, Standing: catalogue.Assumption}
	}
	office := []catalogue.PlaceKind{catalogue.Office}
	c := &catalogue.Catalogue{Jurisdictions: map[catalogue.JurisdictionCode]catalogue.Jurisdiction{
		"A":   {Code: "A", Postings: []catalogue.Posting{{Places: office, BeforeHours: hours(24), StaysHours: hours(24)}}},
		"A-1": {Code: "A-1", Within: "A", Postings: []catalogue.Posting{{Places: office, StaysHours: hours(48)}}},
	}}
	if before, after, asked := c.PostingTimes("A-1", catalogue.Office); before != 24*time.Hour || after != 48*time.Hour || !asked {
		t.Errorf("of two rules: %v before and %v after, want the stricter of each, 24 h and 48 h", before, after)
	}
}

func TestLeastEntry_PublishedRows(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		code   catalogue.JurisdictionCode
		hours  time.Duration
		source string
	}{
		{"US-PA", 7, "Pennsylvania Act 36 of 2002"},
		{"US-NJ", 7, "N.J.A.C. 7:30-13.8(a): within seven hours of the application"},
		{"US-MI", 4, "MCL 324.8316: unoccupied for not less than 4 hours"},
	} {
		least, known, text := catalogue.Shipped().LeastEntry(tc.code, catalogue.School)
		if least != tc.hours*time.Hour || !known || text == "" {
			t.Errorf("school in %s: %v, %v, want %d h (%s)", tc.code, least, known, tc.hours, tc.source)
		}
		if least, known, _ := catalogue.Shipped().LeastEntry(tc.code, catalogue.Office); known {
			t.Errorf("office in %s: %v, though no such rule was read", tc.code, least)
		}
	}
}

// 40 CFR 156.208(c): I 48 h, II 24 h, III and IV 12 h; what is missing is never guessed lower.
func TestAgriculturalEntry_ByTheWorstCategoryAndMissingCountsAsTheWorst(t *testing.T) {
	t.Parallel()
	for category, hours := range map[string]time.Duration{
		"I": 48, "II": 24, "III": 12, "IV": 12, "": 48, "V": 48, "2": 48, "IIII": 48, " iii ": 12, "I II": 48,
	} {
		if got := catalogue.Shipped().AgriculturalEntry(category); got != hours*time.Hour {
			t.Errorf("category %q: %v, want %d h", category, got, hours)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		category := rapid.String().Draw(t, "category")
		if got := catalogue.Shipped().AgriculturalEntry(category); got < 12*time.Hour || got > 48*time.Hour {
			t.Fatalf("category %q: %v", category, got)
		}
	})
	defer func() {
		if recover() == nil {
			t.Error("a catalogue without entry defaults guesses an interval")
		}
	}()
	(&catalogue.Catalogue{}).AgriculturalEntry("IV")
}

// Where nothing is known of licences, supervision, notices, signs or entry, Unknown says so in words.
func TestUnknown_SaysWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, code := range slices.Sorted(maps.Keys(c.Jurisdictions)) {
		said := strings.Join(c.Jurisdictions[code].Unknown, "\n")
		says := func(what string, words ...string) {
			if !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(said, w) }) {
				t.Errorf("%s does not say that %s is not known", code, what)
			}
		}
		if _, known := c.Supervision(code); !known {
			says("supervision", "under whom")
		}
		for _, place := range indoors() {
			if len(c.CategoriesCovering(code, place)) == 0 {
				says("a licence category at "+string(place), "category")
			}
			if _, known, _ := c.NoticeLead(code, place); !known {
				says("a notice at "+string(place), "notice")
			}
			if len(c.Postings(code, place)) == 0 {
				says("a sign at "+string(place), "signs")
			}
			if _, known, _ := c.LeastEntry(code, place); !known {
				says("an interval before entry at "+string(place), "before entry")
			}
		}
	}
	if got, own := c.Unknown("US-PA"), c.Jurisdictions["US-PA"].Unknown; len(got) != len(own)+len(c.Jurisdictions["US"].Unknown) || got[0] != own[0] {
		t.Errorf("Pennsylvania: %d sentences, want its own and then the federal ones", len(got))
	}
	if got := c.Unknown("XX"); got != nil {
		t.Errorf("of a jurisdiction that is not listed: %q", got)
	}
}

// Of rules at several levels the strictest known holds, whichever level it comes from and in whatever order they stand.
func TestStrictestKnown_HoldsInEveryChain(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		leads := rapid.SliceOfN(rapid.Float64Range(0, 96), 1, 6).Draw(t, "leads")
		levels := rapid.SliceOfN(rapid.IntRange(0, 2), len(leads), len(leads)).Draw(t, "levels")
		codes := []catalogue.JurisdictionCode{"A", "A-1", "A-1-1"}
		all := map[catalogue.JurisdictionCode]catalogue.Jurisdiction{}
		for i, code := range codes {
			j := catalogue.Jurisdiction{Code: code}
			if i > 0 {
				j.Within = codes[i-1]
			}
			for k, lead := range leads {
				if levels[k] == i {
					hours := catalogue.Figure{Value: lead, Unit: catalogue.UnitHours, Standing: catalogue.Assumption}
					j.Notices = append(j.Notices, catalogue.NoticeRule{Places: []catalogue.PlaceKind{catalogue.Office}, LeadHours: hours, Text: "rule"})
					j.Entries = append(j.Entries, catalogue.EntryRule{Places: []catalogue.PlaceKind{catalogue.Office}, LeastHours: hours, Text: "rule"})
				}
			}
			all[code] = j
		}
		c := &catalogue.Catalogue{Jurisdictions: all}
		want := time.Duration(slices.Max(leads) * float64(time.Hour))
		if lead, known, _ := c.NoticeLead("A-1-1", catalogue.Office); lead != want || !known {
			t.Fatalf("notice %v (%v), want %v", lead, known, want)
		}
		if least, known, _ := c.LeastEntry("A-1-1", catalogue.Office); least != want || !known {
			t.Fatalf("entry %v (%v), want %v", least, known, want)
		}
		if _, known, _ := c.NoticeLead("A-1-1", catalogue.Home); known {
			t.Fatal("another kind of place has a rule")
		}
	})
}

// 7 CFR 110 was rescinded (FR Doc 2025-08220, 12 May 2025) with effect from 11 July 2025: no figure rests on it.
func TestJurisdictions_RestOnNoRescindedRule(t *testing.T) {
	t.Parallel()
	for key, source := range catalogue.Shipped().Sources {
		if strings.Contains(source.Cite, "7 CFR") {
			t.Errorf("source %s cites %q", key, source.Cite)
		}
	}
}

func TestDuties_OwnFirst(t *testing.T) {
	t.Parallel()
	duties := catalogue.Shipped().Duties("US-MD")
	// Maryland Code, Agriculture, § 5-208(b): upon the customer's request, advance notice.
	if !slices.ContainsFunc(duties, func(d catalogue.Duty) bool { return strings.Contains(d.Text, "asks for it is told before") }) {
		t.Errorf("Maryland: %+v", duties)
	}
	if got := catalogue.Shipped().Duties("XX"); got != nil {
		t.Errorf("of a jurisdiction that is not listed: %+v", got)
	}
}

func TestRead_MergesTheSourcesOfSeveralFiles(t *testing.T) {
	t.Parallel()
	files := shippedFiles(t)
	files["sources_more.yaml"] = &fstest.MapFile{Data: []byte("sources:\n  a-new-one:\n    cite: \"A work\"\n    address: https://example.org\n    site_only: true\n")}
	c, err := catalogue.Read(files)
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"arai-1996", "cfr-40-156-208", "a-new-one"} {
		if c.Sources[key].Cite == "" {
			t.Errorf("source %q of one of the files is missing", key)
		}
	}
	if kept := c.Sources["a-new-one"]; !kept.OfSite() || !kept.SiteOnly {
		t.Errorf("a source of which only the site is known: %+v", kept)
	}
	if c.Version == catalogue.Shipped().Version {
		t.Error("a further file does not change the version")
	}
	files["sources_more.yaml"] = &fstest.MapFile{Data: []byte("sources:\n  arai-1996:\n    cite: \"Another work\"\n")}
	if _, err := catalogue.Read(files); err == nil || !strings.Contains(err.Error(), `sources_more.yaml:2:3: sources.arai-1996: source "arai-1996" is in another file already`) {
		t.Errorf("one key in two files: %v", err)
	}
}
