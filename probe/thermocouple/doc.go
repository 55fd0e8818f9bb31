// Package thermocouple turns an emf into a temperature and back by the ITS-90 reference
// functions, and reads and builds the words of thermocouple chips. A chip that takes the
// thermocouple for a straight line is read by undoing that line and applying the reference
// function instead. It does no input or output, and nothing here extrapolates: outside a
// function's range there is an error or a fault, never a temperature.
//
// Built so far: type K (NIST Monograph 175, the functions of IEC 60584-1) and the chip
// MAX31855K.
package thermocouple

//go:generate go run gen.go
