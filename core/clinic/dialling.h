/* SPDX-License-Identifier: Apache-2.0 */
/* How numbers are dialled within a country: what is dialled before them there and not from abroad, and how many digits they have.
 * Only the clinic room uses it. */
#ifndef OSIER_CORE_CLINIC_DIALLING_H
#define OSIER_CORE_CLINIC_DIALLING_H

/* Of a country code (ITU-T E.164): trunk prefixes, separated by spaces, the longer first, "" where none is dialled; digits of a
 * telephone's or mobile's number after the country code, 0 and 0 where that is not fixed enough to say. */
typedef struct {
    const char *trunks;
    int digits_min;
    int digits_max;
    const char *codes; /* that are so, separated by spaces */
} Dialling;

/* The row of the country code that the digits begin with, never NULL: where there is none of its own, a 0 is dialled and the
 * number of digits is not known. code_length (may be NULL): digits of the code, 0 where it is of no row. */
const Dialling *dialling_of(const char *digits, int *code_length);

#endif
