package steel

import "github.com/pelletier/go-toml/v2/unstable"

// where is the place in bytes of one key or table of a document with what stands below it.
type where struct {
	offset int
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
		case unstable.Table, unstable.ArrayTable:
			here = root.header(e)
		case unstable.KeyValue:
			here.put(e)
		}
	}
	return root
}

// at gives the place of a key below w, or w itself if the key does not stand there.
func (w *where) at(key string) *where {
	if k, is := w.keys[key]; is {
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

// header goes where a [table] or [[array]] header points; an array on the way means its last
// element.
func (w *where) header(e *unstable.Node) *where {
	offset := 0
	for it := e.Key(); it.Next(); {
		if n := len(w.items); n > 0 {
			w = w.items[n-1]
		}
		w = w.enter(it.Node())
		offset = int(it.Node().Raw.Offset)
	}
	if e.Kind == unstable.ArrayTable {
		w.items = append(w.items, &where{offset: offset})
		w = w.items[len(w.items)-1]
	}
	return w
}

// put notes a key and the keys of an inline table or of a list of them.
func (w *where) put(kv *unstable.Node) {
	for it := kv.Key(); it.Next(); {
		w = w.enter(it.Node())
	}
	w.fill(kv.Value())
}

func (w *where) fill(v *unstable.Node) {
	for it := v.Children(); it.Next(); {
		switch v.Kind {
		case unstable.InlineTable:
			w.put(it.Node())
		case unstable.Array:
			item := &where{offset: w.offset}
			item.fill(it.Node())
			w.items = append(w.items, item)
		}
	}
}
