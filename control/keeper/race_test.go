//go:build race

package keeper

// usualSeeds is how many seeds TestInvariants takes: under the race detector, which is ten times
// slower, fewer than without it.
const usualSeeds = 8
