/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/columns.h"

#include <string.h>

/* Headers as clinics write them, in small letters and digits alone: spaces, dots and accents are taken off before. Common
 * practice, not a list from elsewhere. */
static const struct {
    const char *name;
    const char *headers;
} FIELDS[COLUMN_FIELDS] = {
    [COLUMN_NAME] = {"name", "name fullname clientname client patient patientname nombre "
                             "nombrecompleto cliente paciente nom nomcomplet nometprenom kunde "
                             "patientin vollername namevorname"},
    [COLUMN_FIRST_NAME] = {"first_name", "firstname forename givenname nombredepila prenom "
                                         "vorname"},
    [COLUMN_LAST_NAME] = {"last_name", "lastname surname familyname apellido apellidos "
                                       "nomdefamille nachname familienname"},
    [COLUMN_PHONE] = {"phone",
                      "phone phonenumber phoneno telephone telephonenumber tel telno mobile "
                      "mobilephone mobilenumber mobileno cell cellphone cellnumber number sms "
                      "telefono movil celular telefonomovil portable numero numerodetelephone "
                      "telefon telefonnummer handy handynummer mobil rufnummer"},
    [COLUMN_EMAIL] = {"email", "email emailaddress mail mailaddress correo correoelectronico "
                               "courriel adressemail adresseemail emailadresse mailadresse"},
    [COLUMN_BORN] = {"born", "born yearofbirth birthyear dateofbirth birthdate birthday dob yob "
                             "nacimiento fechadenacimiento fechanacimiento anodenacimiento "
                             "nacido nele datedenaissance naissance anneedenaissance "
                             "geburtsdatum geboren geburtsjahr"},
    [COLUMN_ZONE] = {"zone", "zone timezone tz zonahoraria fuseau fuseauhoraire zeitzone"},
    [COLUMN_LANGUAGE] = {"language", "language lang idioma lengua langue sprache"},
    [COLUMN_CHANNEL] = {"channel", "channel contactby contactmethod preferredcontact "
                                   "preferredcontactmethod canal contactopreferido "
                                   "contactprefere kanal kontaktweg"},
    [COLUMN_CONSENT] = {"consent", "consent consentgiven consenttomessages agreed "
                                   "consentimiento consentement einwilligung zustimmung"},
    [COLUMN_CONSENT_BY] = {"consent_by", "consentby consenttakenby consentimientopor "
                                         "consentementpar einwilligungbei"},
    [COLUMN_CONSENT_DATE] = {"consent_date", "consentdate consentat consenton dateofconsent "
                                             "fechadeconsentimiento fechaconsentimiento "
                                             "datedeconsentement einwilligungam "
                                             "einwilligungsdatum"},
    [COLUMN_USUAL_PAIN] = {"usual_pain", "usualpain baselinepain dolorhabitual "
                                         "douleurhabituelle ublicherschmerz"},
    [COLUMN_STATURE_CM] = {"stature_cm", "staturecm stature height heightcm estatura "
                                         "estaturacm altura taille taillecm grosse grossecm "
                                         "korpergrosse"},
    [COLUMN_LEG_CM] = {"leg_cm", "legcm leglength leglengthcm"},
    [COLUMN_NEEDS] = {"needs", "needs specialneeds accessneeds note notes comment comments "
                               "necesidades notas besoins remarques bedarf bemerkung "
                               "bemerkungen"},
    [COLUMN_WORDING] = {"wording", "wording"},
    [COLUMN_CALENDAR] = {"calendar", "calendar calendarfile"},
};

const char *column_field_name(ColumnField field)
{
    return FIELDS[field].name;
}

int column_field_of(const char *name)
{
    for (int i = 0; i < COLUMN_FIELDS; i++)
        if (g_ascii_strcasecmp(name, FIELDS[i].name) == 0) return i;
    return -1;
}

/* Small letters and digits without accents, all else left out (g_free). */
static char *plain(const char *header)
{
    g_autofree char *apart = g_utf8_normalize(header, -1, G_NORMALIZE_NFKD);
    g_autofree char *small = g_utf8_strdown(apart, -1);
    GString *text = g_string_new(NULL);

    for (const char *at = small; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        if (letter == 0xdf)
            g_string_append(text, "ss");
        else if (g_unichar_isalnum(letter))
            g_string_append_unichar(text, letter);
    }
    return g_string_free(text, FALSE);
}

static int field_of_header(const char *header)
{
    g_autofree char *wanted = plain(header);

    for (int i = 0; i < COLUMN_FIELDS; i++) {
        g_auto(GStrv) known = g_strsplit(FIELDS[i].headers, " ", -1);
        if (*wanted != '\0' && g_strv_contains((const char *const *)known, wanted)) return i;
    }
    return -1;
}

/* --- suggestions ------------------------------------------------------------------------------ */

#define WORD_BYTES_MAX 40

/* Letters to change, add, leave out or swap: restricted edit distance. */
static int distance(const char *a, const char *b)
{
    int rows[3][WORD_BYTES_MAX + 1];
    int length_a = (int)strlen(a), length_b = (int)strlen(b);

    for (int j = 0; j <= length_b; j++)
        rows[0][j] = j;
    for (int i = 1; i <= length_a; i++) {
        int *now = rows[i % 3], *before = rows[(i + 2) % 3], *earlier = rows[(i + 1) % 3];
        now[0] = i;
        for (int j = 1; j <= length_b; j++) {
            int swap = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]
                           ? earlier[j - 2] + 1
                           : now[j - 1] + 1;
            int change = before[j - 1] + (a[i - 1] != b[j - 1]);
            now[j] = MIN(MIN(before[j] + 1, now[j - 1] + 1), MIN(change, swap));
        }
    }
    return rows[length_a % 3][length_b];
}

static bool is_near(const char *wanted, const char *known)
{
    if (strlen(known) > WORD_BYTES_MAX || strlen(known) < 4) return false;
    if (strstr(wanted, known) != NULL) return true;
    return strlen(wanted) <= WORD_BYTES_MAX &&
           distance(wanted, known) <= (strlen(known) < 6 ? 1 : 2);
}

/* The field that a header may have meant, not yet found; -1: none. */
static int suggest(const ColumnMap *map, const char *header)
{
    g_autofree char *wanted = plain(header);

    for (int i = 0; i < COLUMN_FIELDS; i++) {
        g_auto(GStrv) known = g_strsplit(FIELDS[i].headers, " ", -1);
        for (int j = 0; known[j] != NULL && map->at[i] < 0; j++)
            if (is_near(wanted, known[j])) return i;
    }
    return -1;
}

/* --- the map ---------------------------------------------------------------------------------- */

static void put(ColumnMap *map, const Sheet *sheet, int field, int column, GPtrArray *faults)
{
    if (map->at[field] < 0) {
        map->at[field] = column;
        return;
    }
    sheet_fault(faults, 1, sheet->header[column], "",
                "holds %s, and so does %s; leave one out: --map '%s='", FIELDS[field].name,
                sheet->header[map->at[field]], sheet->header[column]);
}

static int column_named(const Sheet *sheet, const char *header)
{
    g_autofree char *wanted = plain(header);

    for (int i = 0; i < sheet->columns; i++) {
        g_autofree char *found = plain(sheet->header[i]);
        if (strcmp(sheet->header[i], header) == 0 ||
            (*wanted != '\0' && strcmp(found, wanted) == 0))
            return i;
    }
    return -1;
}

/* One "Header=field"; set tells which columns are settled. */
static void take_map(ColumnMap *map, const Sheet *sheet, const char *given, bool *set,
                     GPtrArray *faults)
{
    const char *equals = strrchr(given, '=');
    g_autofree char *header =
        g_strndup(given, equals != NULL ? (gsize)(equals - given) : strlen(given));
    if (!g_utf8_validate(given, -1, NULL)) {
        sheet_fault(faults, 0, "--map", "", "is no valid UTF-8");
        return;
    }
    int column = column_named(sheet, header);
    int field = equals != NULL && equals[1] != '\0' ? column_field_of(equals + 1) : -1;

    if (equals == NULL) {
        sheet_fault(faults, 0, "--map", given, "write it as --map 'Header=field'");
    } else if (column < 0) {
        sheet_fault(faults, 0, "--map", given, "there is no column \"%s\"", header);
    } else if (equals[1] != '\0' && field < 0) {
        sheet_fault(faults, 0, "--map", given,
                    "\"%s\" is no field; osier records import --help lists them", equals + 1);
    } else {
        set[column] = true;
        if (field >= 0) put(map, sheet, field, column, faults);
    }
}

static void leave(ColumnMap *map, const char *header)
{
    int near = suggest(map, header);

    g_ptr_array_add(map->left, near < 0
                                   ? g_strdup(header)
                                   : g_strdup_printf("%s (meant as %s? --map '%s=%s')", header,
                                                     FIELDS[near].name, header, FIELDS[near].name));
}

static void check(const ColumnMap *map, GPtrArray *faults)
{
    if (map->at[COLUMN_NAME] < 0 && map->at[COLUMN_FIRST_NAME] < 0)
        sheet_fault(faults, 1, "name", "", "no column holds it; say which: --map 'Header=name'");
    if (map->at[COLUMN_NAME] >= 0 && map->at[COLUMN_FIRST_NAME] >= 0)
        sheet_fault(faults, 1, "name", "",
                    "a column holds the whole name and another the first name; leave one out");
    if (map->at[COLUMN_PHONE] < 0 && map->at[COLUMN_EMAIL] < 0)
        sheet_fault(faults, 1, "phone", "",
                    "no column holds it, nor a mail address; say which: --map 'Header=phone'");
}

void column_map_make(ColumnMap *map, const Sheet *sheet, const char *const *maps, GPtrArray *faults)
{
    g_autofree bool *set = g_new0(bool, (gsize)sheet->columns);

    map->left = g_ptr_array_new_with_free_func(g_free);
    for (int i = 0; i < COLUMN_FIELDS; i++)
        map->at[i] = -1;
    for (int i = 0; maps != NULL && maps[i] != NULL; i++)
        take_map(map, sheet, maps[i], set, faults);
    for (int i = 0; i < sheet->columns; i++) {
        int field = set[i] ? -1 : field_of_header(sheet->header[i]);
        if (field >= 0) {
            set[i] = true;
            put(map, sheet, field, i, faults);
        }
    }
    for (int i = 0; i < sheet->columns; i++)
        if (!set[i]) leave(map, sheet->header[i]);
    check(map, faults);
}

void column_map_clear(ColumnMap *map)
{
    g_ptr_array_unref(map->left);
}

const char *column_header(const ColumnMap *map, const Sheet *sheet, ColumnField field)
{
    return map->at[field] >= 0 ? sheet->header[map->at[field]] : FIELDS[field].name;
}

const char *column_cell(const ColumnMap *map, const SheetRow *row, ColumnField field)
{
    return map->at[field] >= 0 ? row->cells[map->at[field]] : "";
}
