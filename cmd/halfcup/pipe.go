//go:build !js && !wasip1

package main

import (
	"os/signal"
	"syscall"
)

// ignoreClosedPipes makes of a closed pipe an error that can be named.
func ignoreClosedPipes() { signal.Ignore(syscall.SIGPIPE) }
