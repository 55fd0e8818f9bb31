package main

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPicture(t *testing.T) {
	var out bytes.Buffer
	in := "ab\x1b[31m<c>\x1b[0m⣿\n\x1b[7mX\x1b[0m█─"
	require.NoError(t, run(strings.NewReader(in), &out, 10, 2, false))
	svg := out.String()
	assert.Contains(t, svg, `<text x="0" y="15" textLength="20"`)
	assert.Contains(t, svg, `<text x="20" y="15" textLength="30"`, "the red run begins at column 2")
	assert.Contains(t, svg, "&lt;c&gt;")
	assert.Equal(t, 8, strings.Count(svg, "<circle"), "eight dots of a full braille cell")
	assert.Contains(t, svg, `<rect x="10" y="20" width="10" height="20"/>`, "the full block")
	assert.Contains(t, svg, `<rect x="0" y="20" width="10" height="20" fill="#d6d6d6"/>`,
		"reverse video fills its cell")
	d := xml.NewDecoder(&out)
	for {
		_, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err, "well-formed")
	}
	assert.Error(t, run(strings.NewReader(""), io.Discard, 0, 5, false))
}
