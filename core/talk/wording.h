/* SPDX-License-Identifier: Apache-2.0 */
/* What osier writes: the pack's texts with their placeholders filled. */
#ifndef OSIER_CORE_TALK_WORDING_H
#define OSIER_CORE_TALK_WORDING_H

#include "core/calendar/date.h"
#include "core/talk/pack.h"

/* The text of that key with {name} placeholders replaced once by the values in the NULL-ended list of name, value pairs;
 * a value is never scanned for placeholders. Asserts that the pack has the key (pack_read checks that all keys that osier
 * uses are there, and that no text uses a placeholder that its key does not offer). A value that is not given is empty.
 * Caller's to g_free. */
char *wording(const Pack *pack, const char *key, ...) G_GNUC_NULL_TERMINATED;

/* The same from a table of name to value. */
char *wording_from(const Pack *pack, const char *key, GHashTable *values);

/* What an alert of that kind is called, "pain 8 of 10": the pack's kind- text, kind-other for a kind without one. value
 * (NULL: none) fills its {value}. Caller's to g_free. */
char *wording_kind(const Pack *pack, const char *kind, const char *value);

/* "16 March 2026", and "16 Mar" (with_year: "Mar 2026") for a narrow place. Caller's to g_free. */
char *wording_day(const Pack *pack, Day day);
char *wording_day_short(const Pack *pack, Day day, bool with_year);

/* A number in groups that can be read aloud, "+44 20 7946 0100", and is not broken over lines. What is no E.164 number
 * stays. Caller's to g_free. */
char *wording_phone(const char *number);

/* A name as it may stand amid a line: one that is written from right to left is set apart (Unicode Standard Annex 9, FSI and
 * PDI), or numbers behind it would change their places with it. Caller's to g_free. */
char *wording_name(const char *name);

#endif
