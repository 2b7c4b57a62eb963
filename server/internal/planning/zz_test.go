package planning_test
import ("testing";"fmt")
func TestZZ(t *testing.T) {
	for _, d := range []int{7,10,14} {
	o := open(t)
	k := o.plan(t, d)
	for _, r := range k.Plan.Routes { for _, v := range r.Visits { fmt.Print(d," ",r.Technician, " ", o.Business.Zone.Format(v.Arrives), " ", v.Site, ": "); for _, w := range v.Work { if w.Service=="" {fmt.Print(w.Item, " ")} }; fmt.Println() } }
	for _, u := range k.Plan.Unplanned { fmt.Println(u.Item, u.Status, u.Cost, u.Reasons[0].Text) }
	for _, f := range k.FollowUps { fmt.Println(f.ID, f.Due, f.PricePerDay[:min(3,len(f.PricePerDay))], f.LeftOutPrice) }
	}
}
