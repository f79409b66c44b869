/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/passed.h"

#include <string.h>

#define FIRST "# osier passes on: "
#define FROM "# from: "
#define NOTE "# note: "
#define SUM "# sha256 of what follows the next line: "
#define LAST "# ----"

enum { LINE_CHARS = 200, HEAD_LINES = PASSED_FROM_MAX + 4 };

char *passed_checksum(const char *body)
{
    return g_compute_checksum_for_string(G_CHECKSUM_SHA256, body, -1);
}

/* One line of so many characters, without control characters (g_free). */
static char *clean(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    char *line = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), LINE_CHARS));

    for (char *at = line; *at != '\0'; at++)
        if ((unsigned char)*at < ' ' || *at == 0x7f) *at = ' ';
    return g_strstrip(line);
}

char *passed_hand(const char *clinic, const char *date, const char *by)
{
    g_autofree char *hand =
        g_strdup_printf("%s, %s%s%s", clinic, date, by != NULL ? ", " : "", by != NULL ? by : "");

    return clean(hand);
}

static void put(GString *text, const char *before, const char *value)
{
    g_autofree char *line = clean(value);

    g_string_append_printf(text, "%s%s\n", before, line);
}

char *passed_write(const PassedHead *head, const char *body)
{
    GString *text = g_string_new(NULL);
    g_autofree char *checksum = passed_checksum(body);

    put(text, FIRST, head->what);
    for (guint i = 0; i < MIN(head->from->len, PASSED_FROM_MAX); i++)
        put(text, FROM, head->from->pdata[i]);
    if (head->note != NULL) put(text, NOTE, head->note);
    put(text, SUM, checksum);
    g_string_append(text, LAST "\n");
    g_string_append(text, body);
    return g_string_free(text, FALSE);
}

/* What stands after the prefix on the line (g_free), or NULL. A carriage return before its end is no part of it. */
static char *after(const char *line, size_t length, const char *prefix)
{
    size_t start = strlen(prefix);

    if (length < start || strncmp(line, prefix, start) != 0) return NULL;
    g_autofree char *value = g_strndup(line + start, length - start);
    return clean(value);
}

static void take_line(PassedHead *head, const char *line, size_t length)
{
    char *value = after(line, length, FROM);

    if (value != NULL && head->from->len < PASSED_FROM_MAX) {
        g_ptr_array_add(head->from, value);
        return;
    }
    g_free(value);
    value = after(line, length, NOTE);
    if (value != NULL) {
        g_free(head->note);
        head->note = value;
    }
    value = after(line, length, SUM);
    if (value != NULL) {
        g_free(head->checksum);
        head->checksum = value;
    }
}

/* Where what follows the head begins, or NULL where the head has no end. */
static const char *find_body(const char *text, PassedHead *head)
{
    for (int n = 0; n < HEAD_LINES && *text == '#'; n++) {
        size_t length = strcspn(text, "\n");
        bool last = strncmp(text, LAST, strlen(LAST)) == 0;
        take_line(head, text, length);
        text += length + (text[length] == '\n');
        if (last) return text;
    }
    return NULL;
}

void passed_read(const char *text, PassedHead *head, const char **body)
{
    *head = (PassedHead){.from = g_ptr_array_new_with_free_func(g_free)};
    *body = text;
    if (!g_str_has_prefix(text, FIRST)) return;
    const char *follows = find_body(text, head);
    if (follows == NULL) {
        passed_clear(head);
        *head = (PassedHead){.from = g_ptr_array_new_with_free_func(g_free)};
        return;
    }
    *body = follows;
    head->what = after(text, strcspn(text, "\n"), FIRST);
    g_autofree char *checksum = passed_checksum(follows);
    head->changed = g_strcmp0(head->checksum, checksum) != 0;
}

void passed_clear(PassedHead *head)
{
    g_clear_pointer(&head->what, g_free);
    g_clear_pointer(&head->from, g_ptr_array_unref);
    g_clear_pointer(&head->note, g_free);
    g_clear_pointer(&head->checksum, g_free);
}
