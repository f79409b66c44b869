/* SPDX-License-Identifier: Apache-2.0 */
/* One group of keys of the clinic's settings while it is read: typed getters that add a fault, quoting the value, where
 * something is wrong. Only the clinic room uses it. */
#ifndef OSIER_CORE_CLINIC_SECTION_H
#define OSIER_CORE_CLINIC_SECTION_H

#include "core/clinic/fault.h"

typedef struct {
    Faults *faults;
    json_t *object; /* lent; an empty object where the group is absent or faulty */
    char *pointer;
    bool given; /* stands in the file, and is a group */
} Section;

/* The group under a key of the parent. known (NULL-ended): its keys; every other key is a fault. */
Section section_open(const Section *parent, const char *key, bool required,
                     const char *const *known);

/* A group that is an item of a list. */
Section section_item(const Section *parent, const char *key, size_t index, json_t *item,
                     const char *const *known);

void section_close(Section *section);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Section, section_close)

/* A fault at the value of a key, which is quoted. */
void section_fault(const Section *section, const char *key, const char *why, ...)
    G_GNUC_PRINTF(3, 4);

/* The same without quoting the value, which may hold a password. */
void section_fault_hushed(const Section *section, const char *key, const char *why);

bool section_has(const Section *section, const char *key);

/* Text as it stands; lent, or NULL. */
const char *section_text(const Section *section, const char *key, bool required);

/* One printable, non-empty line of at most bytes_max bytes; the caller's, or NULL. */
char *section_line(const Section *section, const char *key, bool required, size_t bytes_max);

/* A list of texts, or one text for a list of one. An empty array where absent or faulty; frees its texts. */
GPtrArray *section_texts(const Section *section, const char *key, bool required);

/* "15min" in milliseconds, from low to high; otherwise where absent or faulty. */
int64_t section_duration(const Section *section, const char *key, int64_t otherwise, int64_t low,
                         int64_t high);

/* A JSON Pointer (RFC 6901); the caller's, or NULL. whole: may be "", the whole answer. */
char *section_pointer(const Section *section, const char *key, bool required, bool whole);

/* The place of a text among choices (NULL-ended); otherwise where absent or faulty. */
int section_choice(const Section *section, const char *key, const char *const *choices,
                   int otherwise);

#endif
