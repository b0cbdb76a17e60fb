from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("builds", "0010_programmable_parts")]

    operations = [
        migrations.AddField(model_name="run", name="makers_own", field=models.BooleanField(default=False)),
    ]
