package app_test

import (
	"testing"

	"vernation/server/internal/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }
