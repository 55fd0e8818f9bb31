package main

import (
	"math"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/shop"
)

// bladeIn says what is known of a blade in an oven before there is one: its fan, and what its
// air was found to give a blade.
func (b *shopFiles) bladeIn(o *shop.Oven) *control.BladeInfo {
	in := &control.BladeInfo{Fan: o.Fan}
	if p := shop.PickConvection(b.found, o.Name); p.Origin != shop.FromNowhere {
		in.ConvectionW, in.From = p.Value.W, p.Words()
	}
	return in
}

// convection keeps what a run with a probe at its blade says of the oven's air, if it can say
// it. A simulated run says nothing of the shop.
func (b *shopFiles) convection(oven string, r keeper.Result, run string) error {
	w, within, err := r.Fit.Convection()
	if err != nil || r.Last.Info == nil || r.Last.Info.Simulated {
		return nil // why not stands in record show
	}
	tenth := func(v float64) float64 { return math.Round(v*10) / 10 }
	e := shop.Entry[shop.Convection]{Of: oven, Date: shop.DateOf(r.Last.Wall), Run: run,
		Value: shop.Convection{W: tenth(w), Within: tenth(within)}}
	return shop.NewStore(shop.FoundPath(b.path)).Update(func(f *shop.Found) error {
		f.Convections = shop.Put(f.Convections, e)
		return nil
	})
}
