/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/roll.h"

#include <string.h>

#include "core/calendar/date.h"

typedef struct {
    const ColumnMap *map;
    const Sheet *sheet;
    const SheetRow *row;
    DateOrder order;
    GPtrArray *faults;
    json_t *fields;
} Roll;

static const char *cell(const Roll *roll, ColumnField field)
{
    return column_cell(roll->map, roll->row, field);
}

static void fault(const Roll *roll, ColumnField field, const char *why)
{
    sheet_fault(roll->faults, roll->row->number, column_header(roll->map, roll->sheet, field),
                cell(roll, field), "%s", why);
}

static void put(Roll *roll, const char *name, const char *text)
{
    if (*text != '\0') json_object_set_new(roll->fields, name, json_string(text));
}

/* --- dates ------------------------------------------------------------------------------------ */

/* Three numbers with one sort of sign between them; how many digits each has. */
static bool split_date(const char *text, int part[3], size_t digits[3])
{
    char between = '\0';

    for (int i = 0; i < 3; i++) {
        digits[i] = strspn(text, "0123456789");
        if (digits[i] == 0 || digits[i] > 4) return false;
        part[i] = (int)g_ascii_strtoll(text, NULL, 10);
        text += digits[i];
        if (i == 2) break;
        if (strchr("-./ ", *text) == NULL || *text == '\0' || (i == 1 && *text != between))
            return false;
        between = *text++;
        text += *text == ' ';
    }
    return *text == '\0' || *text == 'T' || *text == ' ';
}

char *roll_date(const char *text, DateOrder order, const char **why)
{
    int part[3];
    size_t digits[3];
    Day day;

    *why = "is no date; write it as 2026-03-02";
    if (!split_date(text, part, digits)) return NULL;
    if (digits[0] != 4 && digits[2] != 4) {
        *why = "has a year of two digits; write all four";
        return NULL;
    }
    int year = digits[0] == 4 ? part[0] : part[2];
    int month = digits[0] == 4 || order == DATES_DAY_FIRST ? part[1] : part[0];
    int mday = digits[0] == 4 ? part[2] : order == DATES_DAY_FIRST ? part[0] : part[1];
    if (!day_from_civil(year, month, mday, &day)) {
        *why = order == DATES_DAY_FIRST
                   ? "is no date with the day first; where the month is: --dates month-first"
                   : "is no date with the month first; where the day is: --dates day-first";
        return NULL;
    }
    return day_format(day);
}

/* A year, or a date of which the year is kept. */
static void put_born(Roll *roll)
{
    const char *text = cell(roll, COLUMN_BORN);
    const char *why = NULL;

    if (*text == '\0') return;
    if (strlen(text) == 4 && strspn(text, "0123456789") == 4) {
        put(roll, "born", text);
        return;
    }
    g_autofree char *date = roll_date(text, roll->order, &why);
    if (date == NULL) {
        fault(roll, COLUMN_BORN, why);
        return;
    }
    date[4] = '\0';
    put(roll, "born", date);
}

/* --- words ------------------------------------------------------------------------------------ */

typedef struct {
    const char *is;
    const char *words;
} Word;

/* What a text says, or NULL where it is none of the words; case and spaces do not matter. */
static const char *word_of(const Word *words, size_t n, const char *text)
{
    g_autofree char *small = g_utf8_casefold(text, -1);

    for (size_t i = 0; i < n; i++) {
        g_auto(GStrv) known = g_strsplit(words[i].words, "|", -1);
        if (g_strv_contains((const char *const *)known, small)) return words[i].is;
    }
    return NULL;
}

static const char *channel_of(Roll *roll)
{
    static const Word CHANNELS[] = {
        {"sms", "sms|text|texts|text message|mobile|mensaje|móvil|handy"},
        {"email", "email|e-mail|mail|correo|courriel"},
        {"phone", "phone|call|calls|ring|landline|telephone|llamada|appel|anruf|festnetz"},
    };
    const char *text = cell(roll, COLUMN_CHANNEL);
    const char *channel = word_of(CHANNELS, G_N_ELEMENTS(CHANNELS), text);

    if (*text == '\0')
        return *cell(roll, COLUMN_PHONE) == '\0' && *cell(roll, COLUMN_EMAIL) != '\0' ? "email"
                                                                                      : "sms";
    if (channel != NULL) return channel;
    fault(roll, COLUMN_CHANNEL, "is none of sms, email, phone");
    return NULL;
}

static void put_language(Roll *roll)
{
    static const Word LANGUAGES[] = {
        {"en", "en|english|inglés|anglais|englisch"},
        {"es", "es|spanish|español|espagnol|spanisch|castellano"},
        {"fr", "fr|french|francés|français|französisch"},
        {"de", "de|german|alemán|allemand|deutsch"},
    };
    const char *text = cell(roll, COLUMN_LANGUAGE);
    const char *language = word_of(LANGUAGES, G_N_ELEMENTS(LANGUAGES), text);

    put(roll, "language", language != NULL ? language : text);
}

static void put_name(Roll *roll)
{
    g_autofree char *both =
        g_strconcat(cell(roll, COLUMN_FIRST_NAME), " ", cell(roll, COLUMN_LAST_NAME), NULL);
    const char *name = g_strstrip(both);

    if (roll->map->at[COLUMN_NAME] >= 0) name = cell(roll, COLUMN_NAME);
    if (*name == '\0')
        fault(roll, roll->map->at[COLUMN_NAME] >= 0 ? COLUMN_NAME : COLUMN_FIRST_NAME, "is empty");
    put(roll, "name", name);
}

/* A spreadsheet that took a number for a quantity wrote 4.4207946E+11. */
static void put_phone(Roll *roll)
{
    const char *text = cell(roll, COLUMN_PHONE);

    if (strpbrk(text, "eE") != NULL && strspn(text, "0123456789.,eE+") == strlen(text))
        fault(roll, COLUMN_PHONE,
              "was turned into a quantity by a spreadsheet; format the column as text and enter "
              "the numbers again");
    else
        put(roll, "phone", text);
}

/* --- consent ---------------------------------------------------------------------------------- */

typedef enum { CONSENT_NONE, CONSENT_GIVEN, CONSENT_UNCLEAR } Consent;

/* Words that say that consent was given, and that it was not. A text with both, or neither, is for a person. */
static Consent consent_of(const char *text)
{
    static const char *const GIVEN[] = {
        "yes",     "y",          "x",           "1",          "true",    "agreed",
        "signed",  "form",       "verbal",      "oral",       "written", "writing",
        "paper",   "given",      "sí",          "si",         "oui",     "ja",
        "firmado", "formulario", "escrito",     "signé",      "écrit",   "verbal",
        "orale",   "mündlich",   "schriftlich", "formulaire", "signée",  "unterschrieben",
        NULL};
    static const char *const NOT[] = {
        "no",      "n",       "0",        "false",    "not",       "none",     "never", "without",
        "pending", "refused", "declined", "unsigned", "withdrawn", "withdrew", "asked", "waiting",
        "unknown", "non",     "nein",     "nicht",    "kein",      "keine",    "sin",   "pendiente",
        "sans",    "pas",     "offen",    "revoked",  NULL};
    g_autofree char *small = g_utf8_casefold(text, -1);
    g_auto(GStrv) words = g_strsplit_set(small, " ,.;:-/()'", -1);
    bool given = false, refused = false;

    if (*text == '\0') return CONSENT_NONE;
    for (int i = 0; words[i] != NULL; i++) {
        given = given || g_strv_contains(GIVEN, words[i]);
        refused = refused || g_strv_contains(NOT, words[i]);
    }
    if (given == refused) return CONSENT_UNCLEAR;
    return given ? CONSENT_GIVEN : CONSENT_NONE;
}

/* "sms: signed form, R. Okafor, 2026-03-01", the whole in one cell. */
static bool is_whole_consent(const char *text)
{
    static const char *const CHANNELS[] = {"sms:", "email:", "phone:"};

    for (size_t i = 0; i < G_N_ELEMENTS(CHANNELS); i++)
        if (g_str_has_prefix(text, CHANNELS[i])) return true;
    return false;
}

static void put_consent(Roll *roll, const char *channel)
{
    const char *text = cell(roll, COLUMN_CONSENT), *by = cell(roll, COLUMN_CONSENT_BY);
    const char *when = cell(roll, COLUMN_CONSENT_DATE), *why = NULL;

    if (is_whole_consent(text)) {
        put(roll, "consent", text);
        return;
    }
    Consent consent = consent_of(text);
    if (consent == CONSENT_UNCLEAR)
        fault(roll, COLUMN_CONSENT,
              "says neither yes nor no; write yes, no, or how it was given: signed form, verbal, "
              "written");
    if (consent != CONSENT_GIVEN) return;
    if (*by == '\0') fault(roll, COLUMN_CONSENT_BY, "is empty: who took the consent?");
    if (*when == '\0') fault(roll, COLUMN_CONSENT_DATE, "is empty: when was it given?");
    g_autofree char *date = *when != '\0' ? roll_date(when, roll->order, &why) : NULL;
    if (*when != '\0' && date == NULL) fault(roll, COLUMN_CONSENT_DATE, why);
    if (*by == '\0' || date == NULL || channel == NULL) return;
    g_autofree char *line = g_strdup_printf("%s: %s, %s, %s", channel, text, by, date);
    put(roll, "consent", line);
}

json_t *roll_fields(const ColumnMap *map, const Sheet *sheet, const SheetRow *row, DateOrder order,
                    GPtrArray *faults)
{
    static const struct {
        ColumnField field;
        const char *name;
    } PLAIN[] = {
        {COLUMN_EMAIL, "email"},           {COLUMN_ZONE, "zone"},
        {COLUMN_USUAL_PAIN, "usual_pain"}, {COLUMN_STATURE_CM, "stature_cm"},
        {COLUMN_LEG_CM, "leg_cm"},         {COLUMN_NEEDS, "needs"},
        {COLUMN_WORDING, "wording"},       {COLUMN_CALENDAR, "calendar"},
    };
    Roll roll = {map, sheet, row, order, faults, json_object()};

    for (size_t i = 0; i < G_N_ELEMENTS(PLAIN); i++)
        put(&roll, PLAIN[i].name, cell(&roll, PLAIN[i].field));
    put_name(&roll);
    put_phone(&roll);
    put_born(&roll);
    put_language(&roll);
    const char *channel = channel_of(&roll);
    if (channel != NULL) put(&roll, "channel", channel);
    put_consent(&roll, channel);
    return roll.fields;
}

/* --- swapped columns -------------------------------------------------------------------------- */

static bool is_mail(const char *text)
{
    return strchr(text, '@') != NULL;
}

static bool is_number(const char *text)
{
    size_t length = strlen(text), digits = 0;

    for (size_t i = 0; i < length; i++)
        digits += g_ascii_isdigit(text[i]) != 0;
    return length > 0 && 2 * digits > length;
}

static bool is_wordy(const char *text)
{
    return !is_mail(text) && !is_number(text);
}

char *roll_swapped(const ColumnMap *map, const Sheet *sheet)
{
    static const struct {
        ColumnField field;
        bool (*is_other)(const char *text);
        const char *other;
    } LOOKS[] = {
        {COLUMN_NAME, is_mail, "mail addresses"},  {COLUMN_NAME, is_number, "numbers"},
        {COLUMN_PHONE, is_mail, "mail addresses"}, {COLUMN_PHONE, is_wordy, "words"},
        {COLUMN_EMAIL, is_number, "numbers"},      {COLUMN_EMAIL, is_wordy, "words"},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(LOOKS); i++) {
        guint filled = 0, other = 0;
        for (guint j = 0; j < sheet->rows->len; j++) {
            const char *text =
                column_cell(map, &g_array_index(sheet->rows, SheetRow, j), LOOKS[i].field);
            filled += *text != '\0';
            other += *text != '\0' && LOOKS[i].is_other(text);
        }
        if (filled > 0 && 2 * other > filled)
            return g_strdup_printf("column %s holds mostly %s: are columns swapped? --map "
                                   "'Header=field' says which is which",
                                   column_header(map, sheet, LOOKS[i].field), LOOKS[i].other);
    }
    return NULL;
}
