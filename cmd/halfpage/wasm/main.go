//go:build js && wasm

// Halfpage's wasm is the part of the program that runs inside the page: it
// gives the page one function, halfcup, that takes a question in JSON and
// returns the answer in JSON.
package main

import (
	"syscall/js"

	"halfcup/cmd/halfpage/internal/answer"
)

func main() {
	var book answer.Book
	js.Global().Set("halfcup", js.FuncOf(func(_ js.Value, args []js.Value) any {
		return string(book.Ask([]byte(args[0].String())))
	}))
	js.Global().Get("halfcupReady").Invoke()
	select {}
}
