/* SPDX-License-Identifier: Apache-2.0 */
/* The pictures of the digest. They are drawn here, on the store thread, once a week. */
#include "adapters/chart/chart.h"
#include "daemon/jobs/digest.h"
#include "daemon/jobs/pictures.h"

#define WIDTH 560.0
#define COURSE_DAYS 56
/* What the pictures may weigh, in base64: the whole mail must stay under 300 kB for 60 clients. */
#define WEIGHT_MOST (170 * 1024)

Picture *digest_adherence(const Digest *digest, const Pack *pack)
{
    g_autofree AdherenceEntry *entries = g_new0(AdherenceEntry, digest->clients->len + 1);

    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        entries[i] = (AdherenceEntry){.name = client->name, .counts = client->counts};
    }
    return picture_of_adherence(pack, entries, (int)digest->clients->len);
}

/* Adds the picture where its weight still fits. */
static bool add(Digest *digest, const Picture *picture, const char *title, size_t *weight)
{
    g_autoptr(GBytes) png = chart_picture(picture, CHART_MAIL, WIDTH);
    gsize length;
    const void *bytes = g_bytes_get_data(png, &length);

    *weight += length * 4 / 3;
    if (*weight > WEIGHT_MOST) return false;
    digest_picture(digest, title, picture->alt, bytes, length);
    return true;
}

void digest_draw(Job *job, Digest *digest, const Pack *pack)
{
    g_autoptr(Picture) all = digest_adherence(digest, pack);
    size_t weight = 0;
    bool fits = all == NULL || add(digest, all, all->title, &weight);

    for (guint i = 0; fits && i < digest->calls->len; i++) {
        const DigestCall *call = digest->calls->pdata[i];
        g_autoptr(Person) person = person_load(job, call->client);
        if (person == NULL) continue;
        Day from = pictures_begin(job, person, digest->to - COURSE_DAYS + 1, digest->to);
        g_autoptr(Picture) course = pictures_course(job, person, from, digest->to, pack);
        fits = add(digest, course, call->name, &weight);
    }
}
