package main

import (
	"bufio"
	"fmt"
	"os"
	"syscall"
	"unsafe"
)

// waitForReader keeps the window open that Windows made for a program that was
// double-clicked: without an argument what it says would be gone at once. A
// program that was called from a shell shares the shell's window.
func waitForReader(args []string) {
	if len(args) > 0 {
		return
	}
	var ids [2]uint32
	list := syscall.NewLazyDLL("kernel32.dll").NewProc("GetConsoleProcessList")
	if list.Find() != nil {
		return
	}
	if n, _, _ := list.Call(uintptr(unsafe.Pointer(&ids[0])), uintptr(len(ids))); n != 1 {
		return
	}
	fmt.Fprint(os.Stderr, "\nhalfcup is used from a command window. Press Enter to close this one. ")
	bufio.NewReader(os.Stdin).ReadString('\n') // whatever comes, it was read
}
