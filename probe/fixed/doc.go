// Package fixed has the temperatures that a smith can make without an instrument: ice, boiling
// water where he stands, and metals that melt. Each comes with how far it may be off in a shop,
// how it is made and what is dangerous in it. It is arithmetic and tables only.
//
// The dependence of boiling water on pressure is the saturation line of IAPWS-IF97, that of the
// pressure on the height the U.S. Standard Atmosphere of 1976. What is called from memory below
// is a handbook's value that was not read again.
package fixed
