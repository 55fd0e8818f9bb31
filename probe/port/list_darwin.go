package port

import (
	"fmt"
	"path/filepath"
	"slices"
)

// List gives the serial ports of the system whose file system begins at root, "/" but in tests:
// the call-out nodes, whose names stay with the adapter as far as its driver has a number for
// it. No port is opened, since that starts most boards again. What is behind a node and who has
// it open cannot be told without the system's own libraries.
func List(root string) ([]Found, error) {
	found, err := filepath.Glob(filepath.Join(root, "dev/cu.*"))
	if err != nil {
		return nil, fmt.Errorf("listing ports: %w", err)
	}
	var out []Found
	for _, path := range found {
		node := "/dev/" + filepath.Base(path)
		out = append(out, Found{Name: node, Node: node, Names: []string{node},
			Rights: rights(path)})
	}
	slices.SortFunc(out, byNode)
	return out, nil
}

// adapterOf says nothing here: what is behind a name cannot be told without opening it.
func adapterOf(root, path string) string { return "" }
