package app_test

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"vernation/client"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
	"vernation/testdata"
)

// marked stands in many texts that the calls say; the log may hold it nowhere.
const marked = "Quendoline Zz"

// texts are what a field of text may hold: what is, what could be, and what never can be.
var texts = []string{
	"", marked, "businesses/demo-rounds", "businesses/demo-rounds/sites/offices-alder-row", "businesses/demo-rounds/plants/pothos-stairs",
	"businesses/demo-rounds/sites/offices-alder-row/areas/offices-floor", "businesses/demo-rounds/technicians/tech-a",
	"businesses/demo-rounds/technicians/tech-a/dayRoutes/2026-03-03", "businesses/demo-rounds/cases/one", "businesses/demo-rounds/cases/one/course",
	"businesses/demo-rounds/plans/one", "businesses/elsewhere/sites/x", "one", "two", "tech-a", "offices-floor", "citrus-mealybug", "insecticidal-soap",
	"US-PA", "America/New_York", "2026-03-02", "2026-02-30", "4 L", "1/0 L", "-3 US gal", "one/application/1/1", "W/\"7\"", "sites", "*",
	"\x00", "\u202e", strings.Repeat("a", 70), strings.Repeat("ü", 5000), "name", "display_name = \"x\"", "'; DROP TABLE site; --",
}

// anyMessage fills a message of the contract with anything.
func anyMessage(t *rapid.T, message protoreflect.Message, depth int) {
	switch message.Descriptor().FullName() {
	case "google.protobuf.Timestamp":
		at := rapid.SampledFrom([]time.Time{time.Unix(0, 0), time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC), time.Now(), time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)}).Draw(t, "at")
		proto.Merge(message.Interface(), like(message, timestamppb.New(at)))
		return
	case "google.protobuf.Duration":
		proto.Merge(message.Interface(), like(message, durationpb.New(time.Duration(rapid.SampledFrom([]int64{0, -1, 1, 60, 86400}).Draw(t, "seconds"))*time.Second)))
		return
	}
	for i := range message.Descriptor().Fields().Len() {
		field := message.Descriptor().Fields().Get(i)
		often := 2 // in how many cases of twenty it is left out
		if !slices.Contains(proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior), annotations.FieldBehavior_REQUIRED) {
			often = 14
		}
		if rapid.IntRange(1, 20).Draw(t, "left out") <= often || field.IsMap() || depth == 0 && field.Message() != nil {
			continue
		}
		if !field.IsList() {
			message.Set(field, anyValue(t, message, field, depth))
			continue
		}
		for range rapid.IntRange(0, 3).Draw(t, "items") {
			message.Mutable(field).List().Append(anyValue(t, message, field, depth))
		}
	}
}

// rulesOf are the rules of a field, or of the items of a list.
func rulesOf(field protoreflect.FieldDescriptor) *validate.FieldRules {
	rules := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	if field.IsList() {
		rules = rules.GetRepeated().GetItems()
	}
	return rules
}

// formOf is the form of name that the contract asks of a field, or "".
func formOf(field protoreflect.FieldDescriptor) string {
	for _, rule := range rulesOf(field).GetCel() {
		switch {
		case strings.Contains(rule.GetMessage(), "lower-case letters, digits and hyphens"):
			return "{id}"
		case strings.Contains(rule.GetMessage(), "want a date"):
			return "2026-12-01"
		}
		if form, ok := strings.CutPrefix(rule.GetMessage(), "want a name of the form "); ok {
			return form
		}
	}
	return ""
}

// named fills a form of name, mostly with what the demo's business has.
func named(t *rapid.T, form string) string {
	form, _, _ = strings.Cut(form, " ")
	return wildcard.ReplaceAllStringFunc(form, func(part string) string {
		if part == "{business}" {
			return rapid.SampledFrom([]string{"demo-rounds", "demo-rounds", "demo-rounds", twinBusiness}).Draw(t, part)
		}
		return rapid.SampledFrom(append([]string{"one", "two", "three", "four"}, known[part]...)).Draw(t, part)
	})
}

var wildcard = regexp.MustCompile(`\{[a-z_]+\}`)

// known are ids of the demo's business.
var known = map[string][]string{
	"{site}": {"offices-alder-row", "hotel-quarry-square"}, "{area}": {"offices-floor"}, "{plant}": {"pothos-stairs", "lily-reading"},
	"{technician}": {"tech-a", "tech-b"}, "{day}": {"2026-03-03"}, "{client}": {"client-offices"}, "{product}": {"soap", "soap-concentrate"},
}

// like writes a well-known message as the dynamic one that a request holds.
func like(dynamic protoreflect.Message, known proto.Message) proto.Message {
	made := dynamic.New().Interface()
	text, err := proto.Marshal(known)
	if err == nil {
		err = proto.Unmarshal(text, made)
	}
	if err != nil {
		panic(err)
	}
	return made
}

func anyValue(t *rapid.T, in protoreflect.Message, field protoreflect.FieldDescriptor, depth int) protoreflect.Value {
	rules := rulesOf(field)
	number := rapid.SampledFrom([]float64{0, 1, 2, 7, -1, 40, 1e6, math.MaxInt32}).Draw(t, "number")
	if rapid.IntRange(0, 9).Draw(t, "within") > 0 {
		least := float64(rules.GetInt32().GetGte()) + float64(rules.GetInt64().GetGte()) + rules.GetDouble().GetGte()
		most := float64(rules.GetInt32().GetLte()) + float64(rules.GetInt64().GetLte()) + rules.GetDouble().GetLte()
		number = min(least+rapid.SampledFrom([]float64{0, 1, 3, 40}).Draw(t, "above the least"), most)
	}
	switch field.Kind() {
	case protoreflect.StringKind:
		if field.Name() == "request_id" {
			return protoreflect.ValueOfString(uuid.NewString())
		}
		if form := formOf(field); form != "" && rapid.IntRange(0, 9).Draw(t, "as wanted") > 0 {
			return protoreflect.ValueOfString(named(t, form))
		}
		return protoreflect.ValueOfString(rapid.SampledFrom(texts).Draw(t, "text"))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte(rapid.SampledFrom(texts).Draw(t, "bytes")))
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(number > 1)
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(-1, field.Enum().Values().Len()).Draw(t, "enum")))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(number))
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(int64(number))
	case protoreflect.Uint64Kind:
		return protoreflect.ValueOfUint64(uint64(math.Abs(number)))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(rapid.SampledFrom([]float64{number, number, number, number, math.NaN(), math.Inf(1), 0.5, -77.6, 40.6}).Draw(t, "double"))
	case protoreflect.MessageKind:
		value := in.NewField(field)
		if field.IsList() {
			value = value.List().NewElement()
		}
		anyMessage(t, value.Message(), depth-1)
		return value
	}
	panic(fmt.Sprintf("no value of a %s", field.Kind()))
}

// shared is a log that a test may read while the server still writes.
type shared struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

// Every method of the contract, with whatever a caller may come up with: the server never breaks, what was said is not in
// its log, and of another business nothing is seen and nothing changed, even where only the database keeps them apart.
func TestAnyCall_IsAnsweredAndNeitherLoggedNorHeardElsewhere(t *testing.T) {
	t.Parallel()
	log := &shared{}
	cfg := app.Config{Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))}
	checked, _ := run(t, cfg)
	cfg.DatabaseURL, cfg.KeyFile, cfg.RowSecurityAlone = checked.ServeURL(), checked.KeyFile(), true
	unchecked, _ := run(t, cfg)
	twin := bytes.Replace(testdata.DemoBusiness, []byte("id: demo-rounds"), []byte("id: "+twinBusiness), 1)
	twin = regexp.MustCompile(`\bname: "?`).ReplaceAll(twin, []byte("${0}"+twinMark))
	for name, text := range map[string][]byte{"demo.yaml": testdata.DemoBusiness, "twin.yaml": twin} {
		if _, err := app.Load(t.Context(), checked.OwnerURL(), checked.ServeURL(), name, text, nil); err != nil {
			t.Fatal(err)
		}
	}
	before := rowsOf(t, checked.OwnerURL(), twinBusiness)
	var methods []protoreflect.MethodDescriptor
	for _, method := range bindings(t) {
		if !method.IsStreamingServer() {
			methods = append(methods, method)
		}
	}
	slices.SortFunc(methods, func(a, b protoreflect.MethodDescriptor) int {
		return strings.Compare(string(a.FullName()), string(b.FullName()))
	})
	servers := []callers{callersOf(t, checked), callersOf(t, unchecked)}
	rapid.Check(t, func(t *rapid.T) {
		for range 10 {
			rapid.SampledFrom(servers).Draw(t, "server").callAnything(t, rapid.SampledFrom(methods).Draw(t, "method"))
		}
	})
	after := rowsOf(t, checked.OwnerURL(), twinBusiness)
	for table, rows := range after {
		if before[table] != rows {
			t.Errorf("%s: the rows of the other business have changed", table)
		}
	}
	if len(before) < 20 || before["site"] == before["plan"] {
		t.Errorf("the rows of the other business are %v: nothing was compared", before)
	}
	log.judge(t)
}

// The other business has the same ids, and names of its own.
const (
	twinBusiness = "twin-rounds"
	twinMark     = "Twinmark "
)

// callAnything calls a method with anything.
func (c callers) callAnything(t *rapid.T, method protoreflect.MethodDescriptor) {
	request, response := dynamicpb.NewMessage(method.Input()), dynamicpb.NewMessage(method.Output())
	anyMessage(t, request, 3)
	name := fmt.Sprintf("/%s/%s", method.Parent().FullName(), method.Name())
	ctx, cancel := context.WithTimeout(rapid.SampledFrom(c.contexts).Draw(t, "caller"), time.Minute)
	defer cancel()
	err := c.client.Conn().Invoke(ctx, name, request, response)
	switch status.Code(err) {
	case codes.Internal, codes.Unknown, codes.DeadlineExceeded, codes.Unimplemented:
		t.Fatalf("%s answers %v to %v", name, err, request)
	default:
	}
	if told := prototext.Format(response) + fmt.Sprint(err); strings.Contains(told, twinMark) {
		t.Fatalf("%s tells of another business: %s, asked %v", name, told, request)
	}
}

// rowsOf tells for each table of the business the content of its rows, as a hash.
func rowsOf(t *testing.T, url, business string) map[string]string {
	t.Helper()
	database, err := sql.Open("postgres", url)
	if err != nil {
		t.Fatal(err)
	}
	defer database.Close()
	database.SetMaxOpenConns(1)
	if _, err := database.ExecContext(t.Context(), `SELECT set_config('vernation.business', $1, false)`, business); err != nil {
		t.Fatal(err)
	}
	var tables []string
	found, err := database.QueryContext(t.Context(), `SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relrowsecurity`)
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	for found.Next() {
		var table string
		if err := found.Scan(&table); err != nil {
			t.Fatal(err)
		}
		tables = append(tables, table)
	}
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	rows := map[string]string{}
	for _, table := range tables {
		var hash string
		if err := database.QueryRowContext(t.Context(), `SELECT coalesce(md5(string_agg(t::text, '|' ORDER BY t::text)), '') FROM "`+table+`" t`).Scan(&hash); err != nil {
			t.Fatal(err)
		}
		rows[table] = hash
	}
	return rows
}

// judge holds the log: calls stand in it, what they said does not.
func (s *shared) judge(t *testing.T) {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if answered := strings.Count(s.text.String(), "code=OK"); answered < 20 {
		t.Errorf("only %d calls came through, so that little was tried", answered)
	}
	for line := range strings.Lines(s.text.String()) {
		if strings.Contains(line, marked) || strings.Contains(line, twinMark) {
			t.Errorf("the log repeats what a call said or was told: %s", line)
		}
	}
}

// callers are those of the demo's business.
type callers struct {
	client   *client.Client
	contexts []context.Context
}

func callersOf(t *testing.T, a *app.App) callers {
	t.Helper()
	c := callers{client: dial(t, a)}
	for _, caller := range []firm.Caller{
		{Business: "demo-rounds", Subject: "office", Role: firm.Office, ResponsibleApplicator: true},
		{Business: "demo-rounds", Subject: "tech-a", Role: firm.Technician, Technician: "tech-a", ResponsibleApplicator: true},
		{Business: "demo-rounds", Subject: "program", Role: firm.Integration},
	} {
		token, err := a.Keys().Issue(caller, time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		c.contexts = append(c.contexts, metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+token))
	}
	return c
}
