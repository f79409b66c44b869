/* SPDX-License-Identifier: Apache-2.0 */
/* Mail made to cost. What reading one takes is counted, not timed: the parts, fields and bytes that are left for the parser,
 * counted by GMime itself. `make bench` has the times. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <gmime/gmime.h>

#include "adapters/mail/bounds.h"
#include "adapters/mail/compose.h"
#include "adapters/mail/read.h"
#include "tests/support/hostile_mail.h"

/* --- what is left for the parser ------------------------------------------------------------ */

typedef struct {
    int parts;
    int fields;
    guint64 work; /* the sum of the squares of the fields' lengths */
} Cost;

static void count_fields(GMimeObject *object, Cost *cost)
{
    GMimeHeaderList *list = g_mime_object_get_header_list(object);
    int count = g_mime_header_list_get_count(list);

    assert_true(count <= BOUNDS_FIELDS);
    cost->fields += count;
    for (int i = 0; i < count; i++) {
        GMimeHeader *header = g_mime_header_list_get_header_at(list, i);
        guint64 length =
            strlen(g_mime_header_get_name(header)) + strlen(g_mime_header_get_raw_value(header));
        assert_true(length <= BOUNDS_FIELD_BYTES);
        cost->work += length * length;
    }
}

static void count_part(GMimeObject *parent, GMimeObject *part, void *context)
{
    Cost *cost = context;

    (void)parent;
    cost->parts++;
    count_fields(part, cost);
    if (!GMIME_IS_MESSAGE_PART(part)) return;
    GMimeMessage *inner = g_mime_message_part_get_message(GMIME_MESSAGE_PART(part));
    if (inner != NULL) count_fields(GMIME_OBJECT(inner), cost);
}

static Cost cost_of(GBytes *mail, MailCut *cut)
{
    g_autoptr(GBytes) bounded = mail_bounded(mail, cut);
    gsize length;
    const char *bytes = g_bytes_get_data(bounded, &length);
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(bytes, length);
    GMimeParser *parser = g_mime_parser_new_with_stream(stream);
    GMimeMessage *message = g_mime_parser_construct_message(parser, NULL);
    Cost cost = {0};

    assert_true(length <= g_bytes_get_size(mail));
    if (message != NULL) {
        count_fields(GMIME_OBJECT(message), &cost);
        g_mime_message_foreach(message, count_part, &cost);
        g_object_unref(message);
    }
    g_object_unref(parser);
    g_object_unref(stream);
    return cost;
}

/* --- tests ---------------------------------------------------------------------------------- */

static void hostile_mail_costs_no_more_than_that(void **state)
{
    (void)state;
    for (int kind = 0; kind < HOSTILE_KINDS; kind++) {
        g_autoptr(GBytes) mail = hostile_mail(kind);
        MailCut cut;
        Cost cost = cost_of(mail, &cut);
        print_message("%s: %d parts, %d fields\n", hostile_name(kind), cost.parts, cost.fields);
        assert_true(cost.parts <= BOUNDS_DELIMITERS + 1);
        /* the longest a few times over, and short ones of a whole mail */
        assert_true(cost.work <= (guint64)5 * BOUNDS_FIELD_BYTES * BOUNDS_FIELD_BYTES +
                                     (guint64)HOSTILE_BYTES * BOUNDS_FIELD_BYTES_SHORT);
        assert_int_equal(cut.parts || cut.fields, hostile_is_cut(kind));
    }
}

static void hostile_mail_is_kept_for_a_person(void **state)
{
    (void)state;
    for (int kind = 0; kind < HOSTILE_KINDS; kind++) {
        g_autoptr(GBytes) mail = hostile_mail(kind);
        g_autoptr(MailIn) in = mail_read(mail, true);
        print_message("%s: %s\n", hostile_name(kind), in->incoming->problem);
        assert_non_null(in->incoming->problem);
        assert_non_null(in->incoming->id);
        assert_true(strlen(in->incoming->text) <= 64 * 1024);
        assert_true(g_utf8_validate(in->incoming->text, -1, NULL));
    }
}

/* What a person may write, at the very bound and far below it, passes unchanged. */
static void what_people_write_is_not_touched(void **state)
{
    g_autoptr(GString) many = g_string_new("From: ada@client.example\r\n");
    g_autofree char *long_word = g_strnfill(BOUNDS_FIELD_BYTES - strlen("X-Long: \r\n"), 'a');
    g_autofree char *long_line = g_strnfill(100000, 'a');

    (void)state;
    for (int i = 2; i < BOUNDS_FIELDS; i++)
        g_string_append_printf(many, "X-%d: a\r\n", i);
    g_string_append_printf(many, "X-Long: %s\r\n\r\n", long_word);
    for (int i = 0; i < BOUNDS_DELIMITERS; i++)
        g_string_append(many, "-- \r\n");
    g_string_append_printf(many, "I fell %s\r\n: no name\r\n a: folded\r\n", long_line);
    const char *mails[] = {many->str, "", "\r\n", "a", "a:", "\r\n\r\nDone, a 4", "From: a\n\nb\n"};
    for (size_t i = 0; i < G_N_ELEMENTS(mails); i++) {
        MailCut cut;
        g_autoptr(GBytes) mail = g_bytes_new(mails[i], strlen(mails[i]));
        g_autoptr(GBytes) bounded = mail_bounded(mail, &cut);
        assert_true(g_bytes_equal(mail, bounded));
        assert_false(cut.parts || cut.fields);
    }
}

static void one_more_is_too_much(void **state)
{
    g_autoptr(GString) fields = g_string_new(NULL), parts = g_string_new("A: b\r\n\r\n");
    g_autofree char *long_word = g_strnfill(BOUNDS_FIELD_BYTES, 'a');
    g_autofree char *field = g_strconcat("A: ", long_word, "\r\nB: c\r\n\r\nwords\r\n", NULL);
    g_autofree char *folded = g_strconcat("A: b\r\n ", long_word, "\r\n\tc\r\nB: c\r\n", NULL);

    (void)state;
    for (int i = 0; i <= BOUNDS_FIELDS; i++)
        g_string_append(fields, "A: b\r\n");
    for (int i = 0; i <= BOUNDS_DELIMITERS; i++)
        g_string_append(parts, "--b\r\n");
    const char *mails[] = {fields->str, parts->str, field, folded};
    for (size_t i = 0; i < G_N_ELEMENTS(mails); i++) {
        MailCut cut;
        g_autoptr(GBytes) mail = g_bytes_new(mails[i], strlen(mails[i]));
        g_autoptr(GBytes) bounded = mail_bounded(mail, &cut);
        gsize length;
        const char *left = g_bytes_get_data(bounded, &length);
        assert_int_equal(cut.parts, i == 1);
        assert_int_equal(cut.fields, i != 1);
        assert_true(length < strlen(mails[i]));
        /* what follows the field that was cut stands */
        if (i >= 2) assert_non_null(g_strstr_len(left, (gssize)length, "\r\nB: c\r\n"));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hostile_mail_costs_no_more_than_that),
        cmocka_unit_test(hostile_mail_is_kept_for_a_person),
        cmocka_unit_test(what_people_write_is_not_touched),
        cmocka_unit_test(one_more_is_too_much),
    };
    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
