/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/smtpd.h"

#include <arpa/inet.h>
#include <curl/curl.h>
#include <glib/gstdio.h>
#include <pwd.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"

#define PROGRAM "/usr/sbin/smtpd"

struct Smtpd {
    char *root; /* settings, the log, and a Maildir for each */
    char *sessions;
    int port;
    pid_t pid; /* 0: not running */
};

static const char SETTINGS[] =
    "filter full phase rcpt-to match rcpt-to { \"full@clinic.example\" }"
    " reject \"451 4.2.2 the mailbox is full\"\n"
    "listen on 127.0.0.1 port %1$d hostname mx.example filter full\n"
    "listen on 127.0.0.1 port %2$d hostname mx.far.example tag FAR\n"
    "action ada maildir \"%3$s/ada\" virtual { \"@\" = \"nobody\" }\n"
    "action ben maildir \"%3$s/ben\" virtual { \"@\" = \"nobody\" }\n"
    "action desk maildir \"%3$s/desk\" virtual { \"@\" = \"nobody\" }\n"
    "action sessions maildir \"%4$s\" virtual { \"@\" = \"nobody\" }\n"
    "action far relay host smtp://127.0.0.1:%2$d\n"
    "match tag FAR for rcpt-to \"ben@far.example\" action ben\n"
    "match !tag FAR from any for rcpt-to \"ada@client.example\" action ada\n"
    "match !tag FAR from any for rcpt-to \"desk@clinic.example\" action desk\n"
    "match !tag FAR from any for rcpt-to \"sessions@clinic.example\" action sessions\n"
    "match !tag FAR from any for domain \"far.example\" action far\n";

/* What is mounted ends with the last process of the namespace. */
static const char START[] = "mount -t tmpfs -o mode=755 tmpfs /var/spool && "
                            "mkdir -m 711 /var/spool/smtpd && "
                            "mount -t tmpfs -o mode=755 tmpfs /run && "
                            "exec " PROGRAM " -dv -f \"$1\" >\"$2\" 2>&1";

bool smtpd_installed(void)
{
    int status;

    return geteuid() == 0 && g_file_test(PROGRAM, G_FILE_TEST_IS_EXECUTABLE) &&
           g_spawn_command_line_sync("unshare -m true", NULL, NULL, &status, NULL) && status == 0;
}

/* The Maildir of one, with all that a Maildir needs, of nobody. */
static void make_mailbox(const char *root, const char *whose, const struct passwd *nobody)
{
    static const char *const ROOMS[] = {"", "tmp", "new", "cur"};

    for (size_t i = 0; i < G_N_ELEMENTS(ROOMS); i++) {
        g_autofree char *path = g_build_filename(root, whose, ROOMS[i], NULL);
        g_assert_cmpint(g_mkdir_with_parents(path, 0700), ==, 0);
        g_assert_cmpint(chown(path, nobody->pw_uid, nobody->pw_gid), ==, 0);
    }
}

Smtpd *smtpd_new(int port, int far_port, const char *sessions)
{
    Smtpd *smtpd = g_new0(Smtpd, 1);
    const struct passwd *nobody = getpwnam("nobody");

    g_assert_nonnull(nobody);
    smtpd->root = g_dir_make_tmp("osier-smtpd-XXXXXX", NULL);
    g_assert_nonnull(smtpd->root);
    g_assert_cmpint(g_chmod(smtpd->root, 0755), ==, 0);
    smtpd->sessions = g_strdup(sessions);
    smtpd->port = port;
    make_mailbox(smtpd->root, "ada", nobody);
    make_mailbox(smtpd->root, "ben", nobody);
    make_mailbox(smtpd->root, "desk", nobody);
    g_autofree char *settings = g_strdup_printf(SETTINGS, port, far_port, smtpd->root, sessions);
    folder_write(smtpd->root, "smtpd.conf", settings, -1, 0600);
    return smtpd;
}

void smtpd_free(Smtpd *smtpd)
{
    if (smtpd->pid != 0) smtpd_stop(smtpd);
    folder_remove(smtpd->root);
    g_free(smtpd->sessions);
    g_free(smtpd);
}

static bool greets(int port)
{
    const struct timeval patience = {.tv_sec = 5};
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons((uint16_t)port),
                             .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    char line[4] = "";
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    bool yes = connect(fd, (struct sockaddr *)&at, sizeof at) == 0 &&
               recv(fd, line, sizeof line, MSG_WAITALL) == sizeof line &&
               memcmp(line, "220 ", 4) == 0;
    close(fd);
    return yes;
}

/* A test that aborts takes it along. */
static void in_child(void *unused)
{
    (void)unused;
    prctl(PR_SET_PDEATHSIG, SIGTERM);
}

void smtpd_start(Smtpd *smtpd)
{
    g_autofree char *settings = g_build_filename(smtpd->root, "smtpd.conf", NULL);
    g_autofree char *log = g_build_filename(smtpd->root, "log", NULL);
    char *words[] = {(char *)"unshare", (char *)"-m", (char *)"sh", (char *)"-c", (char *)START,
                     (char *)"sh",      settings,     log,          NULL};
    GError *error = NULL;

    g_assert_cmpint(smtpd->pid, ==, 0);
    g_spawn_async(smtpd->root, words, NULL, G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH,
                  in_child, NULL, &smtpd->pid, &error);
    g_assert_no_error(error);
    for (int tries = 0; !greets(smtpd->port); tries++) {
        g_assert_cmpint(tries, <, 1500);
        g_assert_cmpint(waitpid(smtpd->pid, NULL, WNOHANG), ==, 0);
        g_usleep(20000);
    }
}

void smtpd_stop(Smtpd *smtpd)
{
    g_assert_cmpint(kill(smtpd->pid, SIGTERM), ==, 0);
    g_assert_cmpint(waitpid(smtpd->pid, NULL, 0), ==, smtpd->pid);
    smtpd->pid = 0;
}

long smtpd_send(Smtpd *smtpd, const char *from, const char *to, const char *mail)
{
    g_autofree char *url = g_strdup_printf("smtp://127.0.0.1:%d", smtpd->port);
    FILE *body = fmemopen((void *)mail, strlen(mail), "r");
    struct curl_slist *recipients = curl_slist_append(NULL, to);
    CURL *easy = curl_easy_init();
    long status = 0;

    curl_easy_setopt(easy, CURLOPT_URL, url);
    curl_easy_setopt(easy, CURLOPT_MAIL_FROM, from);
    curl_easy_setopt(easy, CURLOPT_MAIL_RCPT, recipients);
    curl_easy_setopt(easy, CURLOPT_UPLOAD, 1L);
    curl_easy_setopt(easy, CURLOPT_READDATA, body);
    curl_easy_perform(easy);
    curl_easy_getinfo(easy, CURLINFO_RESPONSE_CODE, &status);
    curl_easy_cleanup(easy);
    curl_slist_free_all(recipients);
    fclose(body);
    return status;
}

/* The files of a mailbox, wherever its reader has put them. */
static GPtrArray *files_of(const Smtpd *smtpd, const char *whose)
{
    static const char *const ROOMS[] = {"new", "cur"};
    GPtrArray *files = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *own = g_build_filename(smtpd->root, whose, NULL);
    const char *maildir = strcmp(whose, "sessions") == 0 ? smtpd->sessions : own;

    for (size_t i = 0; i < G_N_ELEMENTS(ROOMS); i++) {
        g_autofree char *path = g_build_filename(maildir, ROOMS[i], NULL);
        g_autoptr(GDir) folder = g_dir_open(path, 0, NULL);
        for (const char *name; folder != NULL && (name = g_dir_read_name(folder)) != NULL;)
            g_ptr_array_add(files, g_build_filename(path, name, NULL));
    }
    return files;
}

int smtpd_wait(Smtpd *smtpd, const char *whose, int mails)
{
    int found = 0;

    for (int tries = 0; tries < 3000; tries++) {
        g_autoptr(GPtrArray) files = files_of(smtpd, whose);
        found = (int)files->len;
        if (found >= mails) break;
        g_usleep(20000);
    }
    return found;
}

GBytes *smtpd_mail(Smtpd *smtpd, const char *whose, const char *holds)
{
    g_autoptr(GPtrArray) files = files_of(smtpd, whose);

    for (guint i = 0; i < files->len; i++) {
        char *text;
        gsize length;
        g_assert_true(g_file_get_contents(files->pdata[i], &text, &length, NULL));
        if (strstr(text, holds) != NULL) return g_bytes_new_take(text, length);
        g_free(text);
    }
    return NULL;
}
