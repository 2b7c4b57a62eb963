package scheduler_test
import ("testing";"fmt";"os";"strconv";"time")
func TestDbgOracle(t *testing.T) {
	n,_ := strconv.Atoi(os.Getenv("N")); from,_ := strconv.Atoi(os.Getenv("FROM")); items,_:=strconv.Atoi(os.Getenv("ITEMS")); it,_:=strconv.Atoi(os.Getenv("IT"))
	miss,gave,frozen:=0,0,0
	begin:=time.Now()
	for s:=from;s<from+n;s++{
		b:=time.Now()
		c:=compare(t,uint64(s),items,it)
		if time.Since(b)>time.Second { fmt.Println("slow",s,time.Since(b),c.nets) }
		if c.gaveUp {gave++}
		if c.frozen {frozen++}
		if !c.frozen&&!c.gaveUp&&c.least<c.solved { miss++; fmt.Println("MISS",s,c.solved,c.least); if os.Getenv("V")!="" {fmt.Println(planText(c.plan)); fmt.Println("ORACLE"); fmt.Println(planText(c.best))}}
		if t.Failed() {break}
	}
	fmt.Println("miss",miss,"gave",gave,"frozen",frozen,"of",n,"in",time.Since(begin))
}
