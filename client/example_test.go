package client_test

import (
	"context"
	"fmt"
	"log"
	"os"
	"sync"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/servertest"
)

// TestMain ends the server that the examples share.
func TestMain(m *testing.M) {
	code := m.Run()
	if opened {
		if server, err := real(); err == nil {
			if err := server.Close(); err != nil {
				fmt.Fprintln(os.Stderr, err)
				code = 1
			}
		}
	}
	os.Exit(code)
}

var opened bool

// real is a server with the demo's business, started once.
var real = sync.OnceValues(func() (*servertest.Server, error) {
	opened = true
	return servertest.Open(context.Background())
})

// office dials as the office; the examples and tests share the connection's server.
func office(ctx context.Context) *client.Client {
	server, err := real()
	if err != nil {
		log.Fatal(err)
	}
	token, err := server.OfficeToken()
	if err != nil {
		log.Fatal(err)
	}
	c, err := client.Dial(ctx, server.Target(), client.WithToken(token))
	if err != nil {
		log.Fatal(err)
	}
	return c
}

func ExampleDial() {
	ctx := context.Background()
	server, err := real() // a real program knows the address
	if err != nil {
		log.Fatal(err)
	}
	token, err := server.OfficeToken()
	if err != nil {
		log.Fatal(err)
	}
	c, err := client.Dial(ctx, server.Target(), client.WithToken(token))
	if err != nil {
		log.Fatal(err)
	}
	defer c.Close()
	site, err := c.Sites().GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/demo-rounds/sites/offices-alder-row"})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(site.GetDisplayName(), site.GetTimeZone())
	// Output: Offices, 4 Alder Row America/New_York
}

func ExampleAll() {
	ctx := context.Background()
	c := office(ctx)
	defer c.Close()
	request := &vernationv1.ListPlantsRequest{Parent: "businesses/demo-rounds", PageSize: 1, Filter: `display_name:"pothos by" OR display_name:"pothos at"`}
	for plant, err := range client.All(ctx, c.Plants().ListPlants, request, (*vernationv1.ListPlantsResponse).GetPlants) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(plant.GetDisplayName(), plant.GetCount())
	}
	// Unordered output:
	// Pothos by the printers 3
	// Pothos at the stairs 5
}

// What somebody else changed meanwhile is not overwritten: read again, decide again, send again.
func ExampleIsStale() {
	ctx := context.Background()
	c := office(ctx)
	defer c.Close()
	const name = "businesses/demo-rounds/sites/hotel-quarry-square"
	read, err := c.Sites().GetSite(ctx, &vernationv1.GetSiteRequest{Name: name})
	if err != nil {
		log.Fatal(err)
	}
	change := func(site *vernationv1.Site, notes string) error {
		site = proto.CloneOf(site)
		site.AccessNotes = notes
		_, err := c.Sites().UpdateSite(ctx, &vernationv1.UpdateSiteRequest{
			Site: site, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"access_notes"}},
		})
		return err
	}
	fmt.Println(change(read, "Deliveries by the yard."))
	err = change(read, "Deliveries by the front.")
	fmt.Println(client.IsStale(err), client.Reason(err))
	// Output:
	// <nil>
	// true ETAG_STALE
}

func ExampleFieldErrors() {
	ctx := context.Background()
	c := office(ctx)
	defer c.Close()
	_, err := c.Plans().CreatePlan(ctx, &vernationv1.CreatePlanRequest{Parent: "demo-rounds", Days: 99})
	for _, field := range client.FieldErrors(err) {
		fmt.Println(field.Path, field.Reason)
	}
	// Output:
	// parent NAME_FORM
	// days INT32_GTE_LTE
}

func ExampleClient_AwaitPlan() {
	ctx := context.Background()
	c := office(ctx)
	defer c.Close()
	run, err := c.Plans().CreatePlan(ctx, &vernationv1.CreatePlanRequest{Parent: "businesses/demo-rounds", Days: 3, MaxIterations: 50, Seed: 1})
	if err != nil {
		log.Fatal(err)
	}
	told := false
	plan, err := c.AwaitPlan(ctx, run.GetName(), func(*vernationv1.PlanRun) { told = true })
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(told, plan.GetState(), plan.GetCurrency())
	// Output: true PLAN_STATE_DRAFT USD
}
