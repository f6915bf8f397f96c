package treat

import (
	"testing"

	"halfcup/internal/long"
)

func TestMain(m *testing.M) { long.Main(m, 15, 50) }
