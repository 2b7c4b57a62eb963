package app_test

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"

	"vernation/client"
	"vernation/server/internal/app"
	"vernation/server/internal/calltest"
	"vernation/server/internal/demo"
	"vernation/server/internal/wiretest"
)

// tenancyCalls is how many random calls are made; CI makes ten thousand.
var tenancyCalls = flag.Int("tenancy.calls", 400, "random calls across businesses")

// ofBusiness is the condition by which every statement of ours holds itself to a business.
var ofBusiness = regexp.MustCompile(`(?:\w+\.)?business_id = \$1\b`)

// withoutBusiness takes that condition out, so that row security alone keeps businesses apart. The queue's own tables have
// none, by design: they hold ids and counts, and workers look across businesses.
func withoutBusiness(text string) string {
	if strings.Contains(text, "queue.") {
		return text
	}
	return ofBusiness.ReplaceAllLiteralString(text, "($1::text IS NOT NULL)")
}

// others are the businesses that there are.
var others = []string{string(demo.Business), sameIDs, otherIDs}

// neighbours are two servers of one database: one as it serves, one with every check of the code off: names of other
// businesses pass, and no statement names its business.
type neighbours struct {
	*told
	checked, bare *client.Client
	m             *calltest.Maker
	callers       []asker
	marks         []string // of the other businesses
	came          map[string]bool
	calls         int
}

func openNeighbours(t *testing.T, business string, marks ...string) *neighbours {
	t.Helper()
	n := &neighbours{told: openTold(t), marks: marks, came: map[string]bool{}}
	a, checked := n.serve(t, app.Config{Planner: true})
	n.checked = checked
	wire := &wiretest.Wire{Rewrite: withoutBusiness}
	_, n.bare = n.serve(t, app.Config{DatabaseURL: wire.Listen(t, n.ServeURL), RowSecurityAlone: true})
	n.m = maker(business, 7)
	n.m.Pool = n.m.Pool.Clone()
	for _, other := range others { // names of others, not what stands under them
		for _, name := range pools[other].Everything() {
			n.m.Pool.HearName(name)
		}
	}
	carried := contexts(t, a, people(business))
	for name, caller := range people(business) {
		n.callers = append(n.callers, asker{carried[name], &caller})
	}
	return n
}

// call makes a random call on a random server and returns what is wrong with its answer, or "".
func (n *neighbours) call() string {
	methods := calltest.Methods()
	method := methods[n.m.Rand.IntN(len(methods))]
	caller := n.caller(method)
	request := n.m.Request(method)
	server, name := n.checked, "the server"
	if n.m.Rand.IntN(2) == 0 {
		server, name = n.bare, "the server without its checks"
	}
	answer, err := method.Call(caller, server.Conn(), request)
	n.calls++
	if !answered(err) {
		return fmt.Sprintf("%s answers %v to %s %v", name, err, method.Path(), request)
	}
	heard := fmt.Sprint(status.Convert(err).Proto())
	if err == nil && answer != nil {
		n.came[method.Path()] = true
		heard = prototext.Format(answer)
	}
	for _, mark := range n.marks {
		if strings.Contains(heard, strings.TrimSpace(mark)) {
			return fmt.Sprintf("%s tells of another business (%s): %s, asked %s %v", name, mark, heard, method.Path(), request)
		}
	}
	if err == nil && method.Reads() && !method.IsStreamingServer() {
		return n.differ(method, caller, request)
	}
	return ""
}

// caller is somebody of the business; mostly one who may call the method.
func (n *neighbours) caller(method calltest.Method) context.Context {
	for {
		one := n.callers[n.m.Rand.IntN(len(n.callers))]
		if owed(method, one.caller) == (refusal{}) || n.m.Rand.IntN(10) == 0 {
			return one.ctx
		}
	}
}

// differ asks both servers the same: without its checks a server must answer as with them.
func (n *neighbours) differ(method calltest.Method, caller context.Context, request proto.Message) string {
	var told [2]proto.Message
	for i, server := range []*client.Client{n.checked, n.bare} {
		answer, err := method.Call(caller, server.Conn(), request)
		if status.Code(err) == codes.PermissionDenied && i == 0 {
			return "" // the bare one let a name of another business through, and answered for the caller's own
		}
		if err != nil {
			return fmt.Sprintf("%s was answered before and now %v", method.Path(), err)
		}
		told[i] = answer
	}
	if method.Name() == "ListPlanRuns" || method.Name() == "GetPlanRun" { // go on meanwhile
		return ""
	}
	if !proto.Equal(told[0], told[1]) {
		return fmt.Sprintf("%s is answered otherwise without the code's checks: %v and %v, asked %v", method.Path(), told[0], told[1], request)
	}
	return ""
}

// Random calls with the names and ids of all businesses, over every method: a caller sees nothing of another business and
// changes nothing there, also where nothing but row security keeps them apart.
func TestTenancy_RandomCallsSeeAndChangeNothingOfOthers(t *testing.T) {
	t.Parallel()
	for caller, marks := range map[string][]string{sameIDs: {otherMark}, otherIDs: {sameMark}} {
		t.Run(caller, func(t *testing.T) {
			t.Parallel()
			n := openNeighbours(t, caller, marks...)
			before := map[string]map[string]string{}
			for _, other := range others {
				before[other] = rowsOf(t, n.OwnerURL, other)
			}
			for range *tenancyCalls / 2 {
				if wrong := n.call(); wrong != "" {
					t.Fatal(wrong)
				}
			}
			for _, other := range others {
				changed := 0
				for table, rows := range rowsOf(t, n.OwnerURL, other) {
					if before[other][table] != rows {
						changed++
						if other != caller {
							t.Errorf("%s: rows of %s have changed", table, other)
						}
					}
				}
				if other == caller && changed < 5 {
					t.Errorf("only %d tables of the caller's own business have changed, so that little was tried", changed)
				}
			}
			t.Logf("%d calls, %d of %d methods answered", n.calls, len(n.came), len(calltest.Methods()))
			if len(n.came) < 20 {
				t.Errorf("only %d methods answered with what was asked for, so that little was tried", len(n.came))
			}
		})
	}
}

// Without row security the same calls, on the server whose checks are off, soon tell of others: so the test above can fail.
func TestTenancy_WithoutRowSecurityTheCallsTellOfOthers(t *testing.T) {
	t.Parallel()
	n := openNeighbours(t, sameIDs, otherMark)
	asAdmin(t, n.Database, func(tx *sql.Tx) error {
		for _, table := range column(t, tx, tenantTables) {
			if _, err := tx.Exec(`ALTER TABLE ` + table + ` DISABLE ROW LEVEL SECURITY`); err != nil {
				return err
			}
		}
		return nil
	})
	n.checked = n.bare
	for range 300 {
		if strings.Contains(n.call(), "tells of another business") {
			return
		}
	}
	t.Error("300 calls without any check told nothing of another business: they do not look")
}
