// Package plant is an electric tempering oven as arithmetic: watts go in, temperatures come
// out. It asks no clock; a step is a quarter of a second of oven time.
//
// Five bodies hold heat: the heater element, the air, the inner wall with rack and tray, the
// outer case, and the blade if one is in. Element, wall, blade and case exchange radiation;
// the air carries heat between them by convection; a leak and the open door take it away. The
// probe holds none: it follows the air, as it was one mixing delay ago, and the wall, with a
// lag. The step is Heun's: the mean of the slopes at its two ends.
//
// The model and the figures of the two reference ovens A and B are reasoned from sizes and
// textbook coefficients, not measured on a real oven.
package plant
