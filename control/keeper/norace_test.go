//go:build !race

package keeper

// usualSeeds is how many seeds TestInvariants takes: about 6 s of one core.
const usualSeeds = 30
