package main

import (
	"strawline/probe/plant"
	"strawline/probe/temp"
)

// coldShop is reference oven A in a room of another temperature.
func coldShop(room temp.C) plant.Params {
	p := plant.A()
	p.Room = room
	return p
}
