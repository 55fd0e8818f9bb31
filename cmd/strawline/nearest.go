package main

import "strings"

// nearest gives the name that word was most likely meant to be, or "" if none is close: at
// most a third of the word's letters may differ, and at most three.
func nearest(word string, names []string) string {
	best, least := "", min(3, max(1, len(word)/3))+1
	for _, name := range names {
		d := editDistance(strings.ToLower(word), strings.ToLower(name))
		if d < least {
			best, least = name, d
		}
	}
	return best
}

// editDistance counts the letters to insert, delete, change or swap with the next
// (Levenshtein's distance with transpositions).
func editDistance(a, b string) int {
	before, last := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row := make([]int, len(b)+1)
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(b)]
}
