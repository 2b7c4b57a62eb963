package rpc_test

import (
	"testing"
)

func TestX(t *testing.T) {
	w := openWorks(t)
	plan := w.makePlan(t, 14)
	t.Log(plan)
	p := w.publish(t, plan)
	t.Log(p)
}
