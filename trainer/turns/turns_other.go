//go:build !linux

package turns

func soon() {}
func late() {}
