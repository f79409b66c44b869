/* SPDX-License-Identifier: Apache-2.0 */
/* The pictures of the digest, as values; they are drawn elsewhere. */
#include "daemon/jobs/digest.h"
#include "daemon/jobs/pictures.h"

#define COURSE_DAYS 56
#define COURSES_MOST 20 /* a mail has room for about as many */

Picture *digest_adherence(const Digest *digest, const Pack *pack)
{
    g_autofree AdherenceEntry *entries = g_new0(AdherenceEntry, digest->clients->len + 1);

    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        entries[i] = (AdherenceEntry){.name = client->name, .counts = client->counts};
    }
    return picture_of_adherence(pack, entries, (int)digest->clients->len);
}

GPtrArray *digest_pictures(Job *job, const Digest *digest, const Pack *pack)
{
    GPtrArray *pictures = g_ptr_array_new_with_free_func((GDestroyNotify)picture_free);
    Picture *all = digest_adherence(digest, pack);

    if (all != NULL) g_ptr_array_add(pictures, all);
    for (guint i = 0; i < MIN(digest->calls->len, COURSES_MOST); i++) {
        const DigestCall *call = digest->calls->pdata[i];
        g_autoptr(Person) person = person_load(job, call->client);
        if (person == NULL) continue;
        Day from = pictures_begin(job, person, digest->to - COURSE_DAYS + 1, digest->to);
        Picture *course = pictures_course(job, person, from, digest->to, pack);
        g_free(course->title);
        course->title = g_strdup(call->name);
        g_ptr_array_add(pictures, course);
    }
    return pictures;
}
