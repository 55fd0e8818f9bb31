package shop

import "github.com/pelletier/go-toml/v2/unstable"

// where is the place of one key, table or element in a document, with what stands below
// it. It follows TOML's own nesting, so that a dotted key, a header and an inline table
// that say the same are found in the same way.
type where struct {
	offset int // in bytes
	keys   map[string]*where
	items  []*where
}

// locate finds every key of a document that has already been read without error.
func locate(data []byte) *where {
	root := &where{}
	here := root
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			here = root.header(e, false)
		case unstable.ArrayTable:
			here = root.header(e, true)
		case unstable.KeyValue:
			here.put(e)
		}
	}
	return root
}

// at gives the place of a key below w, or w itself if the key does not stand there.
func (w *where) at(key string) *where {
	if k, ok := w.keys[key]; ok {
		return k
	}
	return w
}

// item gives the place of an element of w, or w itself.
func (w *where) item(i int) *where {
	if i < len(w.items) {
		return w.items[i]
	}
	return w
}

// enter gives the place of a key below w, and makes it at its first mention.
func (w *where) enter(k *unstable.Node) *where {
	name := string(k.Data)
	if w.keys[name] == nil {
		if w.keys == nil {
			w.keys = map[string]*where{}
		}
		w.keys[name] = &where{offset: int(k.Raw.Offset)}
	}
	return w.keys[name]
}

// header goes where a [table] or [[array]] header points; a name on the way that is an array
// means its last element.
func (w *where) header(e *unstable.Node, array bool) *where {
	offset := 0
	for it := e.Key(); it.Next(); {
		if n := len(w.items); n > 0 {
			w = w.items[n-1]
		}
		w = w.enter(it.Node())
		offset = int(it.Node().Raw.Offset)
	}
	if array {
		w.items = append(w.items, &where{offset: offset})
		w = w.items[len(w.items)-1]
	}
	return w
}

// put notes a key and everything inside its value.
func (w *where) put(kv *unstable.Node) {
	for it := kv.Key(); it.Next(); {
		w = w.enter(it.Node())
	}
	w.fill(kv.Value())
}

func (w *where) fill(v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			w.put(it.Node())
		}
	case unstable.Array:
		for it := v.Children(); it.Next(); {
			item := &where{offset: w.offset}
			if it.Node().Raw.Length > 0 {
				item.offset = int(it.Node().Raw.Offset)
			}
			item.fill(it.Node())
			w.items = append(w.items, item)
		}
	}
}
