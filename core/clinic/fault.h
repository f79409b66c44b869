/* SPDX-License-Identifier: Apache-2.0 */
/* What is wrong with a file that people write: clinic settings, programmes, language packs. Such a file reaches core as a
 * JSON tree; a fault names its place by JSON Pointer (RFC 6901), and the file room turns that into line and column. */
#ifndef OSIER_CORE_CLINIC_FAULT_H
#define OSIER_CORE_CLINIC_FAULT_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

typedef struct {
    char *pointer; /* "/gateways/texts/rate"; "" is the whole file */
    bool at_key;   /* the key itself is at fault (unknown, misspelt), not its value */
    char *value;   /* the value or key as written, cut to 80 bytes */
    char *why;     /* what is wrong and what would be right */
} Fault;

/* How the scalar at a pointer is written in the file, or NULL where that is not known; lent. */
typedef const char *FaultWritten(const void *source, const char *pointer);

/* A list of faults in order of finding. Whoever read the file may set written and source (which then must outlive the
 * list), so that numbers are quoted as they stand there: 1.10, not 1.1. */
typedef struct {
    GPtrArray *items; /* of Fault */
    FaultWritten *written;
    const void *source;
} Faults;

Faults *faults_new(void);
void faults_free(Faults *faults);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Faults, faults_free)

/* Adds a fault. value is copied (NULL: taken as empty). why is a printf format. */
void fault_add(Faults *faults, const char *pointer, const char *value, const char *why, ...)
    G_GNUC_PRINTF(4, 5);
void fault_add_key(Faults *faults, const char *pointer, const char *key, const char *why, ...)
    G_GNUC_PRINTF(4, 5);

/* Is there a fault at the pointer? */
bool faults_hold(const Faults *faults, const char *pointer);

/* The pointer of a key or an item below a pointer, escaped by RFC 6901. The caller frees. */
char *fault_pointer(const char *pointer, const char *key);
char *fault_pointer_item(const char *pointer, size_t index);

/* A value as one line of printable text of at most 80 bytes and "..."; NULL is taken as empty. A space after a colon is
 * left out, so that a line of colons and spaces can be taken apart again. The caller frees. */
char *fault_quote(const char *value);

/* A value as a person wrote it, for a fault's value. The caller frees. */
char *fault_written(const Faults *faults, const char *pointer, json_t *value);

/* The known key nearest to a misspelt one (edit distance at most 2, or a prefix), or NULL. known is NULL-ended. */
const char *fault_nearest(const char *key, const char *const *known);

/* Adds a fault for each key of the object that known (NULL-ended) does not list, with the nearest known key. */
void fault_unknown_keys(Faults *faults, const char *pointer, json_t *object,
                        const char *const *known);

/* Reads fields of an object, adding a fault where the type is wrong, or where it is missing and required.
 * A number is taken as text where text is asked for, in the form written in the file.
 * fault_text: NULL where absent or faulty; the text lives as long as the tree. */
const char *fault_text(Faults *faults, const char *pointer, json_t *object, const char *key,
                       bool required);
double fault_number(Faults *faults, const char *pointer, json_t *object, const char *key,
                    double otherwise, double low, double high);
int fault_whole(Faults *faults, const char *pointer, json_t *object, const char *key, int otherwise,
                int low, int high);
bool fault_bool(Faults *faults, const char *pointer, json_t *object, const char *key,
                bool otherwise);

/* NULL where absent or faulty; lent. */
json_t *fault_object(Faults *faults, const char *pointer, json_t *object, const char *key,
                     bool required);
json_t *fault_list(Faults *faults, const char *pointer, json_t *object, const char *key,
                   bool required);

#endif
