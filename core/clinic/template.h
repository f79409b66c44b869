/* SPDX-License-Identifier: Apache-2.0 */
/* Texts with placeholders in braces, as gateways' mappings hold them: {to} {text} {id} {from} {cursor} {secret:NAME}. Here
 * they are only checked; whoever sends replaces them. */
#ifndef OSIER_CORE_CLINIC_TEMPLATE_H
#define OSIER_CORE_CLINIC_TEMPLATE_H

#include "core/clinic/section.h"

/* The next placeholder at or after *at, without its braces; *at moves behind it. NULL at the end, or with *open set where
 * a brace is not closed. open may be NULL. The caller frees. */
char *template_next(const char **at, bool *open);

/* NAME of "secret:NAME", or NULL where the placeholder is none. Lent. */
const char *template_secret(const char *placeholder);

/* Is the name one that a secret's file can have: [a-z0-9.-]+, no leading dot, at most 64 bytes? */
bool secret_name_valid(const char *name);

/* Does the text hold the placeholder? */
bool template_holds(const char *text, const char *placeholder);

/* Does any text in the value? */
bool template_holds_any(json_t *value, const char *placeholder);

/* Adds a fault where the text at the pointer has a placeholder that is not among allowed (NULL-ended; {secret:NAME} is
 * always allowed), or a brace that is not closed. */
void template_check(Faults *faults, const char *pointer, const char *text,
                    const char *const *allowed);

/* The same for every text in the value. */
void template_check_all(Faults *faults, const char *pointer, json_t *value,
                        const char *const *allowed);

/* A template of at most 2000 bytes under a key; the caller's, or NULL. */
char *section_template(const Section *section, const char *key, bool required,
                       const char *const *allowed);

/* An object of header names and templates; a new reference, or NULL. */
json_t *section_headers(const Section *section, const char *key, const char *const *allowed);

/* An object of names and templates (numbers become text); a new reference, or NULL. */
json_t *section_fields(const Section *section, const char *key, const char *const *allowed);

#endif
