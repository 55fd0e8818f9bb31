// Package lines reads what people's own sketches print: text to readings, without ever
// inventing one. It does no input or output and asks no clock.
//
// A Reader cuts the bytes into lines (CR, LF or both end one), and takes each line apart into
// numbers and the text around them. The text with "#" for each number is the line's kind:
// "C = 181.25" is of the kind "C = #". From the first lines it learns which kinds come again
// and again, which number in them is a probe, a cold junction, a running count, the same
// reading once more in another unit, or nothing of ours. Words, printed units, a header line
// and arithmetic decide that (a number that is always 1.8 times another plus 32 repeats it in
// °F). What they do not decide is a Question, and until the shop file answers it there is no
// reading.
//
// From then on a line counts only if it is of a learnt kind, digit for digit as strict as it
// was learnt: the same words, as many decimals, no stray zeros. What does not fit is a bad
// line, a fault in words, or text that a board prints when it starts, which makes a gap.
//
// Two things protect against halves of lines that grew together and against lost or added
// bytes. A number that is 5 units or more away from where the channel was (or on the other
// side of zero) is held back until two more follow it, and is a bad line if they do not: a
// digit too many or too few in front of the decimal mark moves a number by 9 at least. And a
// reading printed in two units is given only if the two agree. A chip's word, which has no
// mark, is held to the same in its two temperatures.
//
// What no reader can tell without a check sum stays: one digit that became another by chance,
// bytes lost from the decimals of one line to those of the next, a sign lost within 0.6 of
// zero, a number below 10 that grew by a digit while the heat moved by more than 2 a reading,
// and, where a sketch leaves out zeros at the end, a digit more or less behind the mark.
package lines
