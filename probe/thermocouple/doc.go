// Package thermocouple turns an emf into a temperature and back by the ITS-90 reference
// functions of types B, E, J, K, N, R, S and T (NIST Monograph 175; IEC 60584-1 and ASTM E230
// have the same), reads the words of the chips MAX31855, MAX6675, MAX31856, MCP9600 and
// ADS1118, and knows the tolerance classes of both standards. A chip that takes the
// thermocouple for a straight line is read by undoing that line and applying the reference
// function instead. It does no input or output, and nothing here extrapolates: outside a
// function's range there is an error or a fault, never a temperature.
package thermocouple

//go:generate go run gen.go
