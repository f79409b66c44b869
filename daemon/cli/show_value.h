/* SPDX-License-Identifier: Apache-2.0 */
/* What the shows have in common: values, reasons and fields as a person reads them. */
#ifndef OSIER_DAEMON_CLI_SHOW_VALUE_H
#define OSIER_DAEMON_CLI_SHOW_VALUE_H

#include <jansson.h>
#include <stdbool.h>

/* 2000-01-01 in milliseconds: no count or number of a document is as great. */
#define SHOW_INSTANT_FROM 946684800000LL

/* Before anything of an answer is shown to a person: what people wrote may hold characters that a terminal obeys, or that turn
 * the order of others about. Each is replaced by U+FFFD, but for line breaks and tabs. */
void show_harmless(json_t *answer);

/* The same of one text, which need not be UTF-8 (g_free). */
char *show_harmless_text(const char *text);

/* A text field, lent; "-" where there is none. */
const char *show_text(const json_t *object, const char *field);

/* Whether a field is there and says something: neither null nor an empty text or list. */
bool show_has(const json_t *object, const char *field);

/* One value: texts as they are, lists with commas, yes and no, "-" for null. */
void show_value(const json_t *value);

/* An instant of JSON as "Tue 10 Mar 2026, 10:19": text is RFC 3339 ("...T10:19:18Z" or without the Z); g_free. What is no
 * instant comes back as it is. */
char *show_instant(const char *text);

/* The same on the clock of an IANA zone, which follows in brackets where named, "Tue 10 Mar 2026, 04:19 (America/Mexico_City)".
 * Where this machine does not know the zone it is UTC, and says so; g_free. */
char *show_instant_in(const char *text, const char *zone, bool named);

/* The kind of a matter in words ("missed days in a row"); one that has none as it is, lent. */
const char *show_kind(const char *kind);

/* A text of several lines, each behind the margin. */
void show_block(const char *text, const char *margin);

/* "missed days: 3 (limit 3)" for each reason, on a line of its own. */
void show_reasons(const json_t *reasons, const char *indent);

/* Whether it is a list of reasons. */
bool show_is_reasons(const json_t *value);

/* Every field that says something, on a line each; what lies within is indented by two. */
void show_fields(const json_t *object, int indent);

#endif
