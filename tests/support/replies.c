/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"
#include "tests/support/replies.h"

static const char *const FIELDS[REPLY_FIELDS] = {
    [REPLY_DONE] = "done",       [REPLY_INTENSITY] = "intensity", [REPLY_PAIN] = "pain",
    [REPLY_WARNING] = "warning", [REPLY_COMMAND] = "command",     [REPLY_PERSON] = "person"};

/* From the gravest. */
static const char *const SIGNS[REPLY_SIGNS] = {"crisis",   "heart", "stroke", "cauda", "clot",
                                               "fracture", "nerve", "fall",   "null"};

static const char *const NUMBER_WORDS[][11] = {
    {"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"},
    {"cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez"},
    {"zéro", "un", "deux", "trois", "quatre", "cinq", "six", "sept", "huit", "neuf", "dix"}};

/* The packs, the client's own first. GPtrArray of Pack, lent by packs. */
static GPtrArray *ordered(const GPtrArray *packs, const char *language)
{
    GPtrArray *order = g_ptr_array_new();

    for (int turn = 0; turn < 2; turn++)
        for (guint i = 0; i < packs->len; i++)
            if ((strcmp(pack_language(packs->pdata[i]), language) == 0) == (turn == 0))
                g_ptr_array_add(order, packs->pdata[i]);
    return order;
}

Reading *replies_read_as(const GPtrArray *packs, const char *language, const char *text)
{
    g_autoptr(GPtrArray) order = ordered(packs, language);

    return reply_read((const Pack *const *)order->pdata, (int)order->len, text, strlen(text));
}

const char *replies_field(ReplyField field)
{
    return FIELDS[field];
}

const char *replies_sign(int sign)
{
    return SIGNS[sign];
}

static int sign_of(const char *name)
{
    for (int i = 0; i < REPLY_SIGNS; i++)
        if (strcmp(SIGNS[i], name) == 0) return i;
    return -1;
}

static void reply_free(void *data)
{
    LabelledReply *reply = data;

    g_free(reply->id);
    g_free(reply->text);
    for (int i = 0; i < REPLY_FIELDS; i++)
        g_free(reply->want[i]);
    g_free(reply);
}

void replies_free(ReplyCorpus *corpus)
{
    g_free(corpus->name);
    g_free(corpus->language);
    g_ptr_array_unref(corpus->lines);
    g_free(corpus);
}

static bool one_of(const char *value, const char *const *allowed)
{
    return g_strv_contains(allowed, value);
}

static bool rating(const char *value)
{
    char *end = NULL;
    double number = g_ascii_strtod(value, &end);

    return end != value && *end == '\0' && number >= 0 && number <= 10;
}

/* Whether a label is one that a reading can give. */
static bool valid(ReplyField field, const char *value)
{
    static const char *const DONE[] = {"yes", "partly", "no", "null", NULL};
    static const char *const COMMAND[] = {"stop", "start", "help", "null", NULL};
    static const char *const TRUTH[] = {"true", "false", NULL};

    switch (field) {
    case REPLY_DONE: return one_of(value, DONE);
    case REPLY_INTENSITY: return rating(value) || strcmp(value, "null") == 0;
    case REPLY_PAIN:
        return rating(value) || strcmp(value, "some") == 0 || strcmp(value, "null") == 0;
    case REPLY_WARNING: return sign_of(value) >= 0;
    case REPLY_COMMAND: return one_of(value, COMMAND);
    default: return one_of(value, TRUTH);
    }
}

static LabelledReply *reply_parse(const char *line, char **fault)
{
    g_auto(GStrv) parts = g_strsplit(line, "\t", -1);

    if (g_strv_length(parts) != 2 + REPLY_FIELDS) {
        *fault = g_strdup_printf("%s: has %u columns, not %d", line, g_strv_length(parts),
                                 2 + REPLY_FIELDS);
        return NULL;
    }
    for (int i = 0; i < REPLY_FIELDS; i++)
        if (!valid((ReplyField)i, parts[2 + i])) {
            *fault =
                g_strdup_printf("%s: %s: %s: no such label", parts[0], FIELDS[i], parts[2 + i]);
            return NULL;
        }
    LabelledReply *reply = g_new0(LabelledReply, 1);
    reply->id = g_strdup(parts[0]);
    g_auto(GStrv) rows = g_strsplit(parts[1], "\\n", -1);
    reply->text = g_strjoinv("\n", rows);
    for (int i = 0; i < REPLY_FIELDS; i++)
        reply->want[i] = g_strdup(parts[2 + i]);
    return reply;
}

ReplyCorpus *replies_load(const char *path, char **fault)
{
    g_autofree char *content = NULL;
    g_autofree char *file = g_path_get_basename(path);
    g_autoptr(GError) error = NULL;

    if (!g_file_get_contents(path, &content, NULL, &error)) {
        *fault = g_strdup(error->message);
        return NULL;
    }
    g_autoptr(ReplyCorpus) corpus = g_new0(ReplyCorpus, 1);
    corpus->lines = g_ptr_array_new_with_free_func(reply_free);
    corpus->name = g_strndup(file, strcspn(file, "."));
    corpus->language = g_strndup(file, strcspn(file, "-"));
    corpus->kept = g_str_has_suffix(corpus->name, "-kept");
    g_auto(GStrv) lines = g_strsplit(content, "\n", -1);
    for (int i = 1; lines[0] != NULL && lines[i] != NULL; i++) { /* the first names the columns */
        if (*lines[i] == '\0') continue;
        LabelledReply *reply = reply_parse(lines[i], fault);
        if (reply == NULL) return NULL;
        g_ptr_array_add(corpus->lines, reply);
    }
    return g_steal_pointer(&corpus);
}

static bool word_number(const char *text, double number)
{
    int whole = (int)number;

    if (whole != number) return false;
    g_autofree char *folded = g_utf8_casefold(text, -1);
    g_auto(GStrv) words = g_regex_split_simple("[^\\p{L}]+", folded, 0, 0);
    for (size_t i = 0; i < G_N_ELEMENTS(NUMBER_WORDS); i++)
        if (g_strv_contains((const char *const *)words, NUMBER_WORDS[i][whole])) return true;
    return false;
}

bool replies_number_stands(const char *text, double number)
{
    const char *at = text;

    while (*at != '\0') {
        g_autoptr(GString) digits = g_string_new(NULL);
        for (; *at != '\0'; at = g_utf8_next_char(at)) {
            int digit = g_unichar_digit_value(g_utf8_get_char(at));
            bool point = (*at == '.' || *at == ',') && digits->len > 0 && g_ascii_isdigit(at[1]);
            if (digit < 0 && !point) break;
            g_string_append_c(digits, point ? '.' : (char)('0' + digit));
        }
        if (digits->len > 0 && g_ascii_strtod(digits->str, NULL) == number) return true;
        if (*at != '\0') at = g_utf8_next_char(at);
    }
    return word_number(text, number);
}

/* A value of a reading as the labels write it; the caller frees. */
static char *written(const json_t *value)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];

    if (json_is_string(value)) return g_strdup(json_string_value(value));
    if (json_is_boolean(value)) return g_strdup(json_is_true(value) ? "true" : "false");
    if (json_is_number(value))
        return g_strdup(g_ascii_formatd(number, sizeof number, "%g", json_number_value(value)));
    return g_strdup("null");
}

static bool number_invented(const LabelledReply *reply, ReplyField field, const char *got)
{
    if (!rating(got) || strcmp(got, reply->want[field]) == 0) return false;
    return strcmp(reply->want[field], "null") == 0 ||
           !replies_number_stands(reply->text, g_ascii_strtod(got, NULL));
}

static void measure_line(const LabelledReply *reply, const json_t *reading, ReplyTally *tally,
                         ReplyWrong *wrong, void *data)
{
    g_autoptr(GPtrArray) got = g_ptr_array_new_with_free_func(g_free);
    const char *rest = json_string_value(json_object_get(reading, "rest"));
    bool all = true;

    for (int i = 0; i < REPLY_FIELDS; i++) {
        g_ptr_array_add(got, written(json_object_get(reading, FIELDS[i])));
        bool right = strcmp(got->pdata[i], reply->want[i]) == 0;
        tally->right[i] += right;
        all = all && right;
    }
    int label = sign_of(reply->want[REPLY_WARNING]);
    int read = sign_of(got->pdata[REPLY_WARNING]);
    bool invented = number_invented(reply, REPLY_INTENSITY, got->pdata[REPLY_INTENSITY]) ||
                    number_invented(reply, REPLY_PAIN, got->pdata[REPLY_PAIN]);
    bool sign = label != REPLY_SIGNS - 1;
    bool flagged = read != REPLY_SIGNS - 1;
    bool unnetted = sign && !flagged && strcmp(got->pdata[REPLY_PERSON], "false") == 0 &&
                    (rest == NULL || *rest == '\0');
    tally->lines++;
    tally->invented += invented;
    tally->signs += sign;
    tally->found += sign && flagged;
    tally->false_flags += !sign && flagged;
    tally->unnetted += unnetted;
    if (read >= 0) tally->confusion[label][read]++;
    if (!all && wrong != NULL)
        wrong(reply, (const char *const *)got->pdata, invented, unnetted, data);
}

bool replies_measure(const ReplyCorpus *corpus, const GPtrArray *packs, ReplyTally *tally,
                     ReplyWrong *wrong, void *data)
{
    *tally = (ReplyTally){0};
    if (packs_find(packs, corpus->language) == NULL) return false;
    for (guint i = 0; i < corpus->lines->len; i++) {
        const LabelledReply *reply = corpus->lines->pdata[i];
        g_autoptr(Reading) reading = replies_read_as(packs, corpus->language, reply->text);
        json_t *read = reading_json(reading);
        measure_line(reply, read, tally, wrong, data);
        json_decref(read);
    }
    return true;
}
