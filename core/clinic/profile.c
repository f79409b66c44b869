/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic itself: its names, numbers, hours and digest. */
#include "core/clinic/address.h"
#include "core/clinic/hours.h"
#include "core/clinic/parts.h"

enum { NAME_BYTES_MAX = 100, SHORT_DIGITS_MAX = 6 };

char *phone_read(const Section *section, const char *key, bool required, const char *country_code)
{
    const char *text = section_text(section, key, required);
    const char *why = NULL;
    char *number = text != NULL ? phone_e164(text, country_code, &why) : NULL;

    if (text != NULL && number == NULL) section_fault(section, key, "%s", why);
    return number;
}

/* A short number of the country (999, 116 123) or one that can be called from anywhere. */
static char *read_hotline(const Section *section, const char *key, bool required,
                          const char *country_code)
{
    const char *text = section_text(section, key, required);

    if (text == NULL) return NULL;
    g_auto(GStrv) groups = g_strsplit(text, " ", -1);
    g_autofree char *joined = g_strjoinv("", groups);
    size_t digits = strspn(joined, "0123456789");
    if (digits >= 2 && digits <= SHORT_DIGITS_MAX && joined[digits] == '\0')
        return g_steal_pointer(&joined);
    return phone_read(section, key, required, country_code);
}

/* 1 to 3 digits without a leading zero; NULL where absent or faulty. */
static char *read_country_code(const Section *section)
{
    const char *text = section_text(section, "country_code", false);

    if (text == NULL) return NULL;
    size_t digits = strspn(text, "0123456789");
    if (digits >= 1 && digits <= 3 && text[digits] == '\0' && text[0] != '0') return g_strdup(text);
    section_fault(section, "country_code",
                  "must be the 1 to 3 digits of a country, such as \"44\", without + or 0");
    return NULL;
}

static bool is_zone_name(const char *text)
{
    size_t length =
        strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/");

    return g_ascii_isalpha(text[0]) && text[length] == '\0' && length <= 60;
}

static bool is_language(const char *text)
{
    size_t letters = strspn(text, "abcdefghijklmnopqrstuvwxyz");
    size_t rest =
        strspn(text + letters, "-ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789");

    return letters >= 2 && letters <= 3 && (rest == 0 || text[letters] == '-') &&
           text[letters + rest] == '\0' && rest <= 30;
}

static void read_names(const Section *section, Clinic *clinic)
{
    clinic->name = section_line(section, "name", true, NAME_BYTES_MAX);
    clinic->zone = section_line(section, "zone", true, NAME_BYTES_MAX);
    if (clinic->zone != NULL && !is_zone_name(clinic->zone))
        section_fault(section, "zone", "must be an IANA zone such as Europe/London");
    clinic->language = section_line(section, "language", false, NAME_BYTES_MAX);
    if (clinic->language == NULL) clinic->language = g_strdup("en");
    if (!is_language(clinic->language))
        section_fault(section, "language", "must be a language tag such as en");
}

static void read_numbers(const Section *section, Clinic *clinic)
{
    clinic->country_code = read_country_code(section);
    clinic->phone = phone_read(section, "phone", true, clinic->country_code);
    clinic->after_hours_phone =
        phone_read(section, "after_hours_phone", false, clinic->country_code);
    clinic->emergency = read_hotline(section, "emergency", true, clinic->country_code);
    clinic->crisis = read_hotline(section, "crisis", false, clinic->country_code);
}

static void read_quiet(const Section *section, Clinic *clinic)
{
    const char *quiet = section_text(section, "quiet", false);

    if (!quiet_parse(quiet != NULL ? quiet : "21:00-08:00", &clinic->quiet))
        section_fault(section, "quiet", "must be two times of day such as 21:00-08:00");
}

static void read_digest(const Section *profile, Clinic *clinic)
{
    static const char *const KEYS[] = {"day", "at", "to", NULL};
    g_auto(Section) section = section_open(profile, "digest", profile->given, KEYS);
    const char *day = section_text(&section, "day", false);
    const char *at = section_text(&section, "at", false);
    g_autofree char *list = fault_pointer(section.pointer, "to");

    clinic->digest_weekday = day != NULL ? weekday_parse(day) : 1;
    if (clinic->digest_weekday == 0)
        section_fault(&section, "day", "must be a day of the week such as monday");
    if (!clock_time_parse(at != NULL ? at : "08:00", &clinic->digest_second))
        section_fault(&section, "at", "must be a time of day such as \"08:00\"");
    g_ptr_array_unref(clinic->digest_to);
    clinic->digest_to = section_texts(&section, "to", true);
    for (guint i = 0; i < clinic->digest_to->len; i++) {
        const char *why = NULL;
        g_autofree char *place = fault_pointer_item(list, i);
        if (!mail_address_valid(clinic->digest_to->pdata[i], &why))
            fault_add(section.faults, place, clinic->digest_to->pdata[i], "%s", why);
    }
    json_t *to = json_object_get(section.object, "to");
    if (json_is_array(to) && json_array_size(to) == 0)
        section_fault(&section, "to",
                      "needs at least one mail address; somebody must read the digest");
}

static int read_years(const Section *section, const char *key)
{
    return fault_whole(section->faults, section->pointer, section->object, key, 0, 0, 100);
}

void profile_read(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"name",
                                       "zone",
                                       "language",
                                       "phone",
                                       "after_hours_phone",
                                       "emergency",
                                       "crisis",
                                       "country_code",
                                       "hours",
                                       "closed",
                                       "quiet",
                                       "digest",
                                       "keep_records_years",
                                       "keep_words_years",
                                       "keep_looks_years",
                                       NULL};
    g_auto(Section) section = section_open(root, "clinic", true, KEYS);

    read_names(&section, clinic);
    read_numbers(&section, clinic);
    hours_read(&section, clinic->hours);
    g_array_unref(clinic->closed);
    clinic->closed = spans_read(&section, "closed");
    read_quiet(&section, clinic);
    read_digest(&section, clinic);
    clinic->keep_records_years = read_years(&section, "keep_records_years");
    clinic->keep_words_years = read_years(&section, "keep_words_years");
    clinic->keep_looks_years = read_years(&section, "keep_looks_years");
}
