/* SPDX-License-Identifier: Apache-2.0 */
/* Which column holds what, and what a row says of a client. Headers and words are as clinics write them (common practice). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/records/roll.h"
#include "tests/support/json_look.h"

typedef struct {
    GPtrArray *faults;
    Sheet *sheet;
    ColumnMap map;
} Roll;

static void open_roll(Roll *roll, const char *text, const char *const *maps)
{
    roll->faults = sheet_faults_new();
    roll->sheet = sheet_read_bytes(text, strlen(text), roll->faults);
    assert_non_null(roll->sheet);
    column_map_make(&roll->map, roll->sheet, maps, roll->faults);
}

static void close_roll(Roll *roll)
{
    column_map_clear(&roll->map);
    sheet_free(roll->sheet);
    g_ptr_array_unref(roll->faults);
}

static void has_fault(const Roll *roll, const char *column, const char *why)
{
    for (guint i = 0; i < roll->faults->len; i++) {
        const SheetFault *fault = roll->faults->pdata[i];
        if (strcmp(fault->column, column) == 0 && strstr(fault->why, why) != NULL) return;
    }
    fail_msg("no fault of %s: %s", column, why);
}

/* The fields of one row under that header, as JSON; why: of its fault, NULL for none. */
static void row_gives(const char *header, const char *row, const char *expected, const char *column,
                      const char *why)
{
    g_autofree char *text = g_strconcat(header, "\n", row, "\n", NULL);
    Roll roll;

    open_roll(&roll, text, NULL);
    json_t *fields =
        roll_fields(&roll.map, roll.sheet, &g_array_index(roll.sheet->rows, SheetRow, 0),
                    DATES_DAY_FIRST, roll.faults);
    if (why != NULL)
        has_fault(&roll, column, why);
    else
        assert_int_equal(roll.faults->len, 0);
    json_t *wanted = json_loads(expected, 0, NULL);
    if (!json_equal(fields, wanted)) fail_msg("%s gives %s", row, json_dumps(fields, JSON_COMPACT));
    json_decref(wanted);
    json_decref(fields);
    close_roll(&roll);
}

static void columns_are_found_by_their_headers(void **state)
{
    Roll roll;

    (void)state;
    open_roll(&roll, "Nombre completo,Teléfono,Correo electrónico,Fecha de nacimiento,Idioma\na\n",
              NULL);
    assert_int_equal(roll.map.at[COLUMN_NAME], 0);
    assert_int_equal(roll.map.at[COLUMN_PHONE], 1);
    assert_int_equal(roll.map.at[COLUMN_EMAIL], 2);
    assert_int_equal(roll.map.at[COLUMN_BORN], 3);
    assert_int_equal(roll.map.at[COLUMN_LANGUAGE], 4);
    close_roll(&roll);
    open_roll(&roll, "FIRST_NAME,Surname,Mobile No.,D.O.B.,Größe (cm)\na,b,c,d,e\n", NULL);
    assert_int_equal(roll.map.at[COLUMN_FIRST_NAME], 0);
    assert_int_equal(roll.map.at[COLUMN_LAST_NAME], 1);
    assert_int_equal(roll.map.at[COLUMN_PHONE], 2);
    assert_int_equal(roll.map.at[COLUMN_BORN], 3);
    assert_int_equal(roll.map.at[COLUMN_STATURE_CM], 4);
    assert_int_equal(roll.faults->len, 0);
    close_roll(&roll);
}

static void a_column_that_is_not_known_gets_a_suggestion(void **state)
{
    static const char *const MAPS[] = {"Fone=phone", "Ward=", NULL};
    static const char *const WRONG[] = {"Fone=fax", "Nought=phone", "Fone", NULL};
    Roll roll;

    (void)state;
    open_roll(&roll, "Name,Phnoe,Insurer\na,b,c\n", NULL);
    assert_int_equal(roll.map.left->len, 2);
    assert_non_null(strstr(roll.map.left->pdata[0], "--map 'Phnoe=phone'"));
    assert_string_equal(roll.map.left->pdata[1], "Insurer");
    has_fault(&roll, "phone", "no column holds it");
    close_roll(&roll);
    open_roll(&roll, "Name,Fone,Ward\na,b,c\n", MAPS);
    assert_int_equal(roll.map.at[COLUMN_PHONE], 1);
    assert_int_equal(roll.faults->len, 0);
    close_roll(&roll);
    open_roll(&roll, "Name,Fone\na,b\n", WRONG);
    has_fault(&roll, "--map", "is no field");
    has_fault(&roll, "--map", "there is no column");
    has_fault(&roll, "--map", "write it as");
    close_roll(&roll);
    open_roll(&roll, "Name,Phone,Mobile\na,b,c\n", NULL);
    has_fault(&roll, "Mobile", "and so does Phone");
    close_roll(&roll);
}

static void a_row_becomes_fields(void **state)
{
    (void)state;
    row_gives("first name,last name,phone,email,born,channel,language",
              "Ada,N.,020 7946 0001,ada@post.example,03/04/1950,Text,English",
              "{\"name\":\"Ada N.\",\"phone\":\"020 7946 0001\",\"email\":\"ada@post.example\","
              "\"born\":\"1950\",\"channel\":\"sms\",\"language\":\"en\"}",
              NULL, NULL);
    row_gives("name,phone,email", "Bob O.,,bob@post.example",
              "{\"name\":\"Bob O.\",\"email\":\"bob@post.example\",\"channel\":\"email\"}", NULL,
              NULL);
    row_gives("name,phone,born", ",12,1950-13-01", "{\"phone\":\"12\",\"channel\":\"sms\"}", "name",
              "is empty");
    row_gives("name,phone", "Ada,4.42079E+11", "{\"name\":\"Ada\",\"channel\":\"sms\"}", "phone",
              "turned into a quantity");
    row_gives("name,phone,channel", "Ada,1,fax", "{\"name\":\"Ada\",\"phone\":\"1\"}", "channel",
              "is none of");
}

#define WITH_CONSENT "name,phone,consent,consent_by,consent_date"
#define ADA "\"name\":\"Ada\",\"phone\":\"1\",\"channel\":\"sms\""

static void consent_needs_how_who_and_when(void **state)
{
    (void)state;
    row_gives(WITH_CONSENT, "Ada,1,signed form,R. Okafor,01.03.2026",
              "{" ADA ",\"consent\":\"sms: signed form, R. Okafor, 2026-03-01\"}", NULL, NULL);
    row_gives(WITH_CONSENT, "Ada,1,\"sms: signed form, R. Okafor, 2026-03-01\",,",
              "{" ADA ",\"consent\":\"sms: signed form, R. Okafor, 2026-03-01\"}", NULL, NULL);
    static const char *const NONE[] = {"no",      "NO", "pending", "not signed",
                                       "refused", "",   "nein",    "0"};
    for (size_t i = 0; i < G_N_ELEMENTS(NONE); i++) {
        g_autofree char *row = g_strdup_printf("Ada,1,%s,R. Okafor,2026-03-01", NONE[i]);
        bool both = strcmp(NONE[i], "not signed") == 0;
        row_gives(WITH_CONSENT, row, "{" ADA "}", both ? "consent" : NULL,
                  both ? "neither yes nor no" : NULL);
    }
    row_gives(WITH_CONSENT, "Ada,1,perhaps,R. Okafor,2026-03-01", "{" ADA "}", "consent",
              "neither yes nor no");
    row_gives(WITH_CONSENT, "Ada,1,yes,,2026-03-01", "{" ADA "}", "consent_by", "who took");
    row_gives(WITH_CONSENT, "Ada,1,yes,R. Okafor,", "{" ADA "}", "consent_date", "when");
}

static void date_is(const char *text, DateOrder order, const char *date, const char *because)
{
    const char *why = NULL;
    g_autofree char *read = roll_date(text, order, &why);

    if (date != NULL)
        assert_string_equal(read != NULL ? read : why, date);
    else
        assert_non_null(strstr(read != NULL ? read : why, because));
}

static void dates_are_read_in_the_clinics_order(void **state)
{
    (void)state;
    date_is("2026-03-02", DATES_MONTH_FIRST, "2026-03-02", NULL);
    date_is("2026/3/2", DATES_DAY_FIRST, "2026-03-02", NULL);
    date_is("02.03.2026", DATES_DAY_FIRST, "2026-03-02", NULL);
    date_is("3/2/2026", DATES_MONTH_FIRST, "2026-03-02", NULL);
    date_is("3/2/2026", DATES_DAY_FIRST, "2026-02-03", NULL);
    date_is("1950-04-03 00:00:00", DATES_DAY_FIRST, "1950-04-03", NULL);
    date_is("1950-04-03T00:00:00", DATES_DAY_FIRST, "1950-04-03", NULL);
    date_is("29/02/2026", DATES_DAY_FIRST, NULL, "no date with the day first");
    date_is("12/31/2026", DATES_DAY_FIRST, NULL, "--dates month-first");
    date_is("3/2/26", DATES_DAY_FIRST, NULL, "two digits");
    date_is("3-2/2026", DATES_DAY_FIRST, NULL, "is no date");
    date_is("last spring", DATES_DAY_FIRST, NULL, "is no date");
    date_is("99999999999999999999-1-1", DATES_DAY_FIRST, NULL, "is no date");
    date_is("", DATES_DAY_FIRST, NULL, "is no date");
}

static void swapped_columns_are_noticed(void **state)
{
    Roll roll;

    (void)state;
    open_roll(&roll, "name,phone,email\nAda,ada@post.example,020 7946 0001\n", NULL);
    g_autofree char *said = roll_swapped(&roll.map, roll.sheet);
    assert_non_null(said);
    assert_non_null(strstr(said, "column phone holds mostly mail addresses"));
    close_roll(&roll);
    open_roll(&roll, "name,phone,email\nAda,020 7946 0001,ada@post.example\n", NULL);
    assert_null(roll_swapped(&roll.map, roll.sheet));
    close_roll(&roll);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_are_found_by_their_headers),
        cmocka_unit_test(a_column_that_is_not_known_gets_a_suggestion),
        cmocka_unit_test(a_row_becomes_fields),
        cmocka_unit_test(consent_needs_how_who_and_when),
        cmocka_unit_test(dates_are_read_in_the_clinics_order),
        cmocka_unit_test(swapped_columns_are_noticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
