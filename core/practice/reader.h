/* SPDX-License-Identifier: Apache-2.0 */
/* Small steps of reading a programme's tree: places, texts, ranges, and the rule that every number
 * names its source. Only the practice room uses it. */
#ifndef OSIER_CORE_PRACTICE_READER_H
#define OSIER_CORE_PRACTICE_READER_H

#include "core/practice/programme.h"

#define READER_TEXT_MAX 2000
#define READER_LIST_MAX 64

typedef struct {
    Faults *faults;
    json_t *sources; /* short name to full reference, or NULL */
} Reader;

/* A fault of a member, quoted as it stands there. why is a printf format. */
void reader_fault(Reader *reader, const char *at, json_t *object, const char *key, const char *why,
                  ...) G_GNUC_PRINTF(5, 6);

/* An object or list member; a fault where it is something else, or missing and required. Lent, or
 * NULL. */
json_t *reader_object(Reader *reader, const char *at, json_t *object, const char *key,
                      bool required);
json_t *reader_list(Reader *reader, const char *at, json_t *object, const char *key, bool required);

/* A text of 1 to READER_TEXT_MAX bytes. NULL where absent or faulty. */
const char *reader_text(Reader *reader, const char *at, json_t *object, const char *key,
                        bool required);

/* A key: [a-z0-9-]+. */
const char *reader_key(Reader *reader, const char *at, json_t *object, const char *key,
                       bool required);

/* A text, or a list of texts. A new list of lent texts; NULL where absent or faulty. */
GPtrArray *reader_texts(Reader *reader, const char *at, json_t *object, const char *key,
                        bool required);

/* The place of a text in choices (NULL-ended), or -1 after a fault. otherwise (or -1: required)
 * where absent. */
int reader_choice(Reader *reader, const char *at, json_t *object, const char *key,
                  const char *const *choices, int otherwise);

/* A number, or a whole number, that must be there. low where it is not. */
double reader_number(Reader *reader, const char *at, json_t *object, const char *key, double low,
                     double high);
int reader_whole(Reader *reader, const char *at, json_t *object, const char *key, int low,
                 int high);

/* "30-40", "30 to 40" or 30: both ends within low..high and in order. {low, low} where absent or
 * faulty. */
Range reader_range(Reader *reader, const char *at, json_t *object, const char *key, double low,
                   double high, bool required);

/* Every block with numbers in it names where they come from: `source:` is "common practice" or a
 * name listed under `sources:`, or several of them, or a table from field to those with
 * `otherwise:` for the rest. */
void reader_source(Reader *reader, const char *at, json_t *object);

/* "30-40" to a range. False where it is none. */
bool range_parse(const char *text, Range *range);

#endif
