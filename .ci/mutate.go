//go:build ignore

// Mutate changes one thing at a time in the files it is given and asks a package's tests whether
// they notice: go run .ci/mutate.go PACKAGE STATE MINUTES FILE... It turns conditions and
// comparisons around, moves constants by one and takes statements away. Nothing in the tree is
// touched: each change is an overlay. STATE has a line for each change that was tried, so that a
// run that was ended, or whose minutes are over, goes on. What does not build is not counted.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"
)

// change replaces a stretch of a file.
type change struct {
	file       string
	from, to   int
	with, what string
	line       int
}

func (c change) String() string {
	return fmt.Sprintf("%s:%d:%d %s", c.file, c.line, c.from, c.what)
}

var turned = map[token.Token]token.Token{token.LSS: token.LEQ, token.LEQ: token.LSS,
	token.GTR: token.GEQ, token.GEQ: token.GTR, token.EQL: token.NEQ, token.NEQ: token.EQL,
	token.LAND: token.LOR, token.LOR: token.LAND}

func changes(file string, src []byte) ([]change, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, src, 0)
	if err != nil {
		return nil, err
	}
	at := func(p token.Pos) int { return set.Position(p).Offset }
	var out []change
	add := func(from, to token.Pos, with, what string) {
		old := string(src[at(from):at(to)])
		out = append(out, change{file, at(from), at(to), strings.ReplaceAll(with, "%", old),
			what + ": " + strings.Join(strings.Fields(old), " "), set.Position(from).Line})
	}
	ast.Inspect(tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok != token.IMPORT
		case *ast.IfStmt:
			add(n.Cond.Pos(), n.Cond.End(), "!(%)", "negated")
		case *ast.BinaryExpr:
			if t, ok := turned[n.Op]; ok {
				end := n.OpPos + token.Pos(len(n.Op.String()))
				add(n.OpPos, end, t.String(), "turned")
			}
		case *ast.BasicLit:
			if n.Kind == token.INT || n.Kind == token.FLOAT {
				add(n.Pos(), n.End(), "(%+1)", "one more")
			}
		case *ast.ExprStmt, *ast.IncDecStmt:
			add(n.Pos(), n.End(), "", "removed")
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				add(n.Pos(), n.End(), "", "removed")
			}
		}
		return true
	})
	return out, nil
}

// try gives "killed", "survived" or "unbuilt".
func try(dir, pkg string, c change, src []byte) (string, error) {
	full, err := filepath.Abs(c.file)
	if err != nil {
		return "", err
	}
	text := string(src[:c.from]) + c.with + string(src[c.to:])
	changed := filepath.Join(dir, "changed.go")
	if err := os.WriteFile(changed, []byte(text), 0o600); err != nil {
		return "", err
	}
	overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{full: changed}})
	if err != nil {
		return "", err
	}
	list := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(list, overlay, 0o600); err != nil {
		return "", err
	}
	said, err := exec.Command("go", "test", "-vet=off", "-overlay", list, "-count=1", "-failfast",
		"-timeout", "2m", pkg).CombinedOutput()
	switch {
	case strings.Contains(string(said), "[build failed]"):
		return "unbuilt", nil
	case err != nil:
		return "killed", nil
	}
	return "survived", nil
}

func run(pkg, state string, most time.Duration, files []string) error {
	done := map[string]bool{}
	if old, err := os.ReadFile(state); err == nil {
		for l := range strings.Lines(string(old)) {
			_, what, _ := strings.Cut(strings.TrimSpace(l), " ")
			done[what] = true
		}
	}
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	out, err := os.OpenFile(state, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer out.Close()
	type job struct {
		change
		src []byte
	}
	var jobs []job
	for _, file := range files {
		src, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		all, err := changes(file, src)
		if err != nil {
			return err
		}
		for _, c := range all {
			if !done[c.String()] {
				jobs = append(jobs, job{c, src})
			}
		}
	}
	start, next, left := time.Now(), 0, 0
	var mu sync.Mutex // holds next, left, err and the file
	var all sync.WaitGroup
	for i := range runtime.NumCPU() {
		own := filepath.Join(dir, strconv.Itoa(i))
		if err := os.Mkdir(own, 0o700); err != nil {
			return err
		}
		all.Go(func() {
			for {
				mu.Lock()
				if err != nil || next == len(jobs) || time.Since(start) > most {
					left = len(jobs) - next
					mu.Unlock()
					return
				}
				c := jobs[next]
				next++
				mu.Unlock()
				what, failed := try(own, pkg, c.change, c.src)
				mu.Lock()
				if failed == nil {
					_, failed = fmt.Fprintf(out, "%s %s\n", what, c)
				}
				err = errors.Join(err, failed)
				mu.Unlock()
			}
		})
	}
	all.Wait()
	if err != nil {
		return err
	}
	if left > 0 {
		return fmt.Errorf("%d changes are left: run it again to go on", left)
	}
	return nil
}

func main() {
	if len(os.Args) < 5 {
		fmt.Fprintln(os.Stderr, "mutate PACKAGE STATE MINUTES FILE...")
		os.Exit(64)
	}
	minutes, err := strconv.Atoi(os.Args[3])
	if err == nil {
		err = run(os.Args[1], os.Args[2], time.Duration(minutes)*time.Minute, os.Args[4:])
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
